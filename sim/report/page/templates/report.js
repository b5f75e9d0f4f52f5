// Draws the charts from the page's own data and lets a reader stop at any hour of them.
// The chart library draws; what a point says is a sentence that came with the page.
(() => {
  "use strict";
  const data = JSON.parse(document.getElementById("data").textContent);
  const recoloured = recolouring(data.dark);
  const night = matchMedia("(prefers-color-scheme: dark)");
  const touch = matchMedia("(pointer: coarse)");
  const HOUR = 3600000;
  // Narrower than the text of an A4 and of a Letter page; so low that two fit on one.
  const PRINT_WIDTH = 640;
  const PRINT_HEIGHT = 250;
  const LETTER = 7;
  const drawings = [];
  let printing = false;

  const ms = (text) => Date.parse(text.replace(" ", "T") + "Z");
  const stamp = (time) => new Date(time).toISOString().slice(0, 19).replace("T", " ");

  class Drawing {
    constructor(figure, chart) {
      this.chart = chart;
      this.plot = figure.querySelector(".plot");
      this.reader = figure.querySelector(".reader");
      this.slider = figure.querySelector("input");
      this.says = figure.querySelector(".says");
      this.times = chart.at.map(ms);
      this.whole = chart.figure.layout.xaxis.range.map(ms);
      this.range = [...this.whole];
      this.margin = chart.figure.layout.margin;
      this.typical = false;
      this.width = 0;
      this.cursor = document.createElement("div");
      this.cursor.className = "cursor";
      this.slider.max = chart.at.length - 1;
      this.slider.value = chart.start;
      this.reader.hidden = chart.at.length < 2;
      this.listen(figure);
    }

    listen(figure) {
      this.slider.addEventListener("input", () => this.read(Number(this.slider.value), true));
      for (const kind of ["pointermove", "pointerdown"]) {
        this.plot.addEventListener(kind, (event) => this.point(event));
      }
      for (const button of figure.querySelectorAll("button")) {
        const hidden = button.dataset.do === "typical" && this.chart.typical === null;
        button.hidden = hidden;
        button.addEventListener("click", () => this.act(button));
      }
    }

    act(button) {
      const [begin, end] = this.range;
      const here = this.times[Number(this.slider.value)];
      if (button.dataset.do === "closer") this.zoom(here, Math.max((end - begin) / 2, 12 * HOUR));
      if (button.dataset.do === "wider") this.zoom(here, (end - begin) * 2);
      if (button.dataset.do === "whole") this.range = [...this.whole];
      if (button.dataset.do === "typical") {
        this.typical = !this.typical;
        button.setAttribute("aria-pressed", String(this.typical));
      }
      this.draw();
    }

    // A stretch of time around a moment, inside the trip.
    zoom(middle, length) {
      const [first, last] = this.whole;
      const fits = Math.min(length, last - first);
      const begin = Math.min(Math.max(middle - fits / 2, first), last - fits);
      this.range = [begin, begin + fits];
    }

    // The point under a finger or a mouse.
    point(event) {
      const box = this.plot.getBoundingClientRect();
      const inner = box.width - this.margin.l - this.margin.r;
      const share = (event.clientX - box.left - this.margin.l) / inner;
      if (share < 0 || share > 1) return;
      const time = this.range[0] + share * (this.range[1] - this.range[0]);
      let low = 0;
      let high = this.times.length - 1;
      while (low < high) {
        const middle = (low + high) >> 1;
        if (this.times[middle] < time) low = middle + 1;
        else high = middle;
      }
      if (low > 0 && time - this.times[low - 1] < this.times[low] - time) low -= 1;
      this.slider.value = low;
      this.read(low, false);
    }

    read(index, follow) {
      this.says.textContent = this.chart.says[index];
      this.slider.setAttribute("aria-valuetext", this.chart.says[index]);
      const time = this.times[index];
      const [begin, end] = this.range;
      if (follow && (time < begin || time > end)) {
        this.zoom(time, end - begin);
        this.draw();
        return;
      }
      const share = (time - begin) / (end - begin);
      const inner = this.width - this.margin.l - this.margin.r;
      this.cursor.style.left = `${this.margin.l + share * inner}px`;
      this.cursor.hidden = share < 0 || share > 1;
    }

    // Names of the stops where there is room for them, their numbers where there is not.
    labels(width) {
      const perMs = (width - this.margin.l - this.margin.r) / (this.range[1] - this.range[0]);
      const found = [];
      for (const stop of this.chart.stops) {
        const begin = Math.max(ms(stop.x0), this.range[0]);
        const room = (Math.min(ms(stop.x1), this.range[1]) - begin) * perMs;
        const long = `${stop.number} ${stop.name}`;
        const text = stop.length * LETTER + 8 < room ? long : stop.number;
        if (room < 2 * LETTER) continue;
        found.push({
          text, x: stamp(begin), y: 1, yref: "paper", xanchor: "left", yanchor: "bottom",
          xshift: 1, showarrow: false, borderpad: 1, font: { size: 12 },
        });
      }
      return found;
    }

    draw() {
      const width = printing ? PRINT_WIDTH : this.plot.clientWidth;
      if (width === 0) return;
      this.width = width;
      const source = night.matches && !printing ? recoloured(this.chart.figure) : this.chart.figure;
      const layout = structuredClone(source.layout);
      layout.width = width;
      if (printing) layout.height = Math.min(layout.height, PRINT_HEIGHT);
      layout.xaxis.range = this.range.map(stamp);
      layout.annotations = [...(layout.annotations ?? []), ...this.labels(width)];
      if (touch.matches) {
        // A finger that scrolls the page must not be caught by the chart.
        layout.dragmode = false;
        layout.xaxis.fixedrange = true;
      }
      const traces = structuredClone(source.data);
      if (this.chart.typical !== null) traces[this.chart.typical].visible = this.typical;
      const first = !this.plot.classList.contains("js-plotly-plot");
      Plotly.react(this.plot, traces, layout, {
        displayModeBar: false, displaylogo: false, doubleClick: false, scrollZoom: false,
        showTips: false, showAxisDragHandles: false,
      });
      this.plot.append(this.cursor);
      if (first) this.follow();
      this.read(Number(this.slider.value), false);
    }

    // Keeps what the reader has zoomed to by hand.
    follow() {
      this.plot.on("plotly_relayout", (change) => {
        if (!("xaxis.range[0]" in change)) return;
        const begin = ms(change["xaxis.range[0]"].slice(0, 19));
        const end = ms(change["xaxis.range[1]"].slice(0, 19));
        this.zoom((begin + end) / 2, Math.max(end - begin, 6 * HOUR));
        this.draw();
      });
      this.plot.on("plotly_doubleclick", () => {
        this.range = [...this.whole];
        this.draw();
      });
    }
  }

  const byPlot = new Map();
  for (const figure of document.querySelectorAll("figure[data-chart]")) {
    const drawing = new Drawing(figure, data.charts[figure.dataset.chart]);
    drawings.push(drawing);
    byPlot.set(drawing.plot, drawing);
  }
  // The first chart is drawn at once, the others when they come near; all again when their width
  // changes.
  function begin(drawing) {
    near.unobserve(drawing.plot);
    drawing.draw();
    sizes.observe(drawing.plot);
  }
  const near = new IntersectionObserver(
    (entries) => {
      for (const entry of entries.filter((e) => e.isIntersecting)) begin(byPlot.get(entry.target));
    },
    { rootMargin: "800px" },
  );
  const sizes = new ResizeObserver((entries) => {
    for (const entry of entries) {
      const drawing = byPlot.get(entry.target);
      if (!printing && drawing.plot.clientWidth !== drawing.width) drawing.draw();
    }
  });
  for (const drawing of drawings) near.observe(drawing.plot);
  begin(drawings[0]);

  const drawn = () => drawings.filter((drawing) => drawing.width > 0);
  night.addEventListener("change", () => drawn().forEach((drawing) => drawing.draw()));
  touch.addEventListener("change", () => drawn().forEach((drawing) => drawing.draw()));
  addEventListener("beforeprint", () => {
    printing = true;
    drawings.forEach((drawing) => drawing.draw());
  });
  addEventListener("afterprint", () => {
    printing = false;
    drawings.forEach((drawing) => drawing.draw());
  });
})();
