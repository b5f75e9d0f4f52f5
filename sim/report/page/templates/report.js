// Lets a reader stop at any hour of a chart, and look closer. The charts are drawn already; the
// chart library, which travels compressed in this page, wakes when someone asks for more.
(() => {
  "use strict";
  const data = JSON.parse(document.getElementById("data").textContent);
  const night = matchMedia("(prefers-color-scheme: dark)");
  const touch = matchMedia("(pointer: coarse)");
  const HOUR = 3600000;
  const REM_PX = 16;
  const LETTER = 7;

  const ms = (text) => Date.parse(text.replace(" ", "T") + "Z");
  const stamp = (time) => new Date(time).toISOString().slice(0, 19).replace("T", " ");
  // How much larger than usual the reader's text is.
  const textScale = () => parseFloat(getComputedStyle(document.documentElement).fontSize) / REM_PX;

  // Colours of paper to those of a dark screen, in anything that holds colours.
  function recoloured(value) {
    if (Array.isArray(value)) return value.map(recoloured);
    if (value !== null && typeof value === "object") {
      return Object.fromEntries(Object.entries(value).map(([k, v]) => [k, recoloured(v)]));
    }
    return typeof value === "string" && Object.hasOwn(data.dark, value) ? data.dark[value] : value;
  }

  let library = null;
  // The chart library, once and for all charts.
  function woken() {
    library ??= (async () => {
      const text = atob(document.getElementById("library").textContent);
      const bytes = new Uint8Array(text.length);
      for (let n = 0; n < text.length; n += 1) bytes[n] = text.charCodeAt(n);
      const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"));
      const script = document.createElement("script");
      script.textContent = await new Response(stream).text();
      document.head.append(script);
    })();
    return library;
  }
  const canWake = "DecompressionStream" in window;

  class Drawing {
    constructor(figure, chart) {
      const { layout } = chart.figure;
      this.chart = chart;
      this.plot = figure.querySelector(".plot");
      this.slider = figure.querySelector("input");
      this.says = figure.querySelector(".says");
      this.times = chart.at.map(ms);
      this.whole = layout.xaxis.range.map(ms);
      this.range = [...this.whole];
      this.margin = layout.margin;
      this.clock = layout.xaxis.domain[1];
      this.live = null;
      this.waking = null;
      this.cursor = document.createElement("div");
      this.cursor.className = "cursor";
      this.plot.append(this.cursor);
      this.slider.max = chart.at.length - 1;
      this.slider.value = chart.start;
      figure.querySelector(".reader").hidden = chart.at.length < 2;
      // The slider lies under the trip: its ends are the first and the last point.
      const place = (time) => (this.clock * (time - this.whole[0])) / (this.whole[1] - this.whole[0]);
      this.slider.style.setProperty("--from", place(this.times[0]).toFixed(4));
      this.slider.style.setProperty("--to", place(this.times.at(-1)).toFixed(4));
      figure.querySelector(".tools").hidden = !canWake;
      this.listen(figure);
      if (chart.at.length > 1) this.read(chart.start);
    }

    listen(figure) {
      this.slider.addEventListener("input", () => this.follow(Number(this.slider.value)));
      for (const kind of ["pointermove", "pointerdown"]) {
        this.plot.addEventListener(kind, (event) => this.point(event));
      }
      for (const button of figure.querySelectorAll("button")) {
        button.addEventListener("click", () => this.act(button.dataset.do));
      }
      // A night of the strip is read in the chart, where its link leads.
      for (const link of document.querySelectorAll(`[href="#${figure.id}"][data-point]`)) {
        link.addEventListener("click", () => this.follow(Number(link.dataset.point)));
      }
      if (!canWake) return;
      // A tap or a click, not a finger that scrolls by; a key at one of the chart's controls.
      this.plot.addEventListener("click", () => this.wake());
      figure.addEventListener("keydown", (event) => {
        if (event.key !== "Tab") this.wake();
      });
      figure.querySelector(".tools").addEventListener("focusin", () => woken());
    }

    wake() {
      this.waking ??= this.stir();
      return this.waking;
    }

    async stir() {
      await woken();
      this.live = document.createElement("div");
      this.live.className = "live";
      this.plot.insertBefore(this.live, this.cursor);
      this.plot.classList.add("awake");
      this.draw();
      this.live.on("plotly_relayout", (change) => this.dragged(change));
      this.live.on("plotly_doubleclick", () => this.act("whole"));
      new ResizeObserver(() => {
        if (this.live.clientWidth !== this.width) this.draw();
      }).observe(this.plot);
      for (const kind of [night, touch]) kind.addEventListener("change", () => this.draw());
    }

    async act(wish) {
      await this.wake();
      const [begin, end] = this.range;
      const here = this.times[Number(this.slider.value)];
      if (wish === "closer") this.zoom(here, Math.max((end - begin) / 2, 12 * HOUR));
      if (wish === "wider") this.zoom(here, (end - begin) * 2);
      if (wish === "whole") this.range = [...this.whole];
      this.draw();
    }

    // Keeps what the reader has drawn a frame around.
    dragged(change) {
      if (!("xaxis.range[0]" in change)) return;
      const [begin, end] = [0, 1].map((n) => ms(change[`xaxis.range[${n}]`].slice(0, 19)));
      this.zoom((begin + end) / 2, Math.max(end - begin, 6 * HOUR));
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
      const frame = this.frame();
      const share = (event.clientX - frame.left) / (frame.width * this.clock);
      if (share < 0 || share > 1) return;
      this.read(this.nearest(this.range[0] + share * (this.range[1] - this.range[0])));
    }

    // Where the curves lie, drawn or live.
    frame() {
      const box = this.plot.getBoundingClientRect();
      const scale = textScale();
      const left = this.margin.l * scale;
      return { left: box.left + left, width: box.width - left - this.margin.r * scale };
    }

    nearest(time) {
      let low = 0;
      let high = this.times.length - 1;
      while (low < high) {
        const middle = (low + high) >> 1;
        if (this.times[middle] < time) low = middle + 1;
        else high = middle;
      }
      return low > 0 && time - this.times[low - 1] < this.times[low] - time ? low - 1 : low;
    }

    // Reads a point and takes the view along to it.
    follow(index) {
      const time = this.times[index];
      const [begin, end] = this.range;
      if (time < begin || time > end) {
        this.zoom(time, end - begin);
        this.draw();
      }
      this.read(index);
    }

    read(index) {
      const [begin, end] = this.range;
      const share = ((this.times[index] - begin) / (end - begin)) * this.clock;
      this.slider.value = index;
      this.says.textContent = this.chart.says[index];
      this.slider.setAttribute("aria-valuetext", this.chart.says[index]);
      this.cursor.hidden = share < 0 || share > this.clock;
      this.plot.style.setProperty("--at", share.toFixed(5));
    }

    // Names of stops, and words beside points, as long as there is room for them.
    words(width, scale) {
      const { l, r } = this.margin;
      const [first, last] = this.range;
      const perMs = ((width - (l + r) * scale) * this.clock) / (last - first);
      const letter = LETTER * scale;
      const base = { showarrow: false, borderpad: 1, xref: "x" };
      const found = [];
      for (const stop of this.chart.stops) {
        const begin = Math.max(ms(stop.x0), first);
        const room = (Math.min(ms(stop.x1), last) - begin) * perMs;
        if (room < 2 * letter) continue;
        const text = stop.length * letter + 8 < room ? `${stop.number} ${stop.name}` : stop.number;
        found.push({
          ...base, text, x: stamp(begin), y: 1, yref: "y domain", xanchor: "left",
          yanchor: "bottom", xshift: 1, yshift: 2, font: { size: 12 },
        });
      }
      for (const note of this.chart.notes) {
        const at = ms(note.x);
        if (at < first || at > last) continue;
        const left = (at - first) * 2 < last - first;
        const room = (left ? last - at : at - first) * perMs;
        found.push({
          ...base, text: note.length * letter + 12 < room ? note.long : note.short, x: note.x,
          y: note.y, yref: "y", xanchor: left ? "left" : "right", xshift: left ? 7 : -7,
          yanchor: note.below ? "top" : "bottom", font: { size: 12, color: note.color },
        });
      }
      return found;
    }

    draw() {
      if (this.live === null) return;
      const width = this.live.clientWidth;
      if (width === 0) return;
      this.width = width;
      const scale = textScale();
      const layout = structuredClone(this.chart.figure.layout);
      layout.annotations = [...layout.annotations, ...this.words(width, scale)];
      Object.assign(layout, { width, height: layout.height * scale });
      for (const side of ["l", "r", "t", "b"]) layout.margin[side] *= scale;
      for (const part of [layout, ...layout.annotations]) part.font.size *= scale;
      for (const [name, axis] of Object.entries(layout)) {
        if (!/^[xy]axis/.test(name)) continue;
        if (axis.tickfont) axis.tickfont.size *= scale;
        if (axis.type !== "date") continue;
        axis.range = this.range.map(stamp);
        // A finger that scrolls the page must not be caught by the chart.
        axis.fixedrange = touch.matches;
      }
      if (touch.matches) layout.dragmode = false;
      const figure = { data: structuredClone(this.chart.figure.data), layout };
      const shown = night.matches ? recoloured(figure) : figure;
      Plotly.react(this.live, shown.data, shown.layout, {
        displayModeBar: false, displaylogo: false, doubleClick: false, scrollZoom: false,
        showTips: false, showAxisDragHandles: false,
      });
      this.read(Number(this.slider.value));
    }
  }

  // What is folded opens for whoever is led there, and for print where a style cannot do it.
  const folded = [...document.querySelectorAll(".folded")];
  const unfold = () => {
    const target = document.getElementById(location.hash.slice(1));
    target?.querySelector(":scope > .folded")?.setAttribute("open", "");
  };
  addEventListener("hashchange", unfold);
  unfold();
  let closed = [];
  addEventListener("beforeprint", () => {
    closed = folded.filter((part) => !part.open);
    for (const part of closed) part.open = true;
  });
  addEventListener("afterprint", () => {
    for (const part of closed) part.open = false;
  });

  for (const figure of document.querySelectorAll("figure[data-chart]")) {
    new Drawing(figure, data.charts[figure.dataset.chart]);
  }
})();
