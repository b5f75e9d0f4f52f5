// Draws the charts of the decisions, in the colours of paper or of a dark screen.
(() => {
  "use strict";
  const data = JSON.parse(document.getElementById("decisions").textContent);
  const recoloured = recolouring(data.dark);
  const night = matchMedia("(prefers-color-scheme: dark)");
  const PRINT_WIDTH = 640;
  // On paper charts are lower, so that two and their words share a sheet.
  const PRINT_SHARE = 0.75;
  const plots = [...document.querySelectorAll(".plot[data-figure]")];
  const widths = new Map();
  let printing = false;

  function draw(plot) {
    const source = data.figures[plot.dataset.figure];
    const figure = structuredClone(night.matches && !printing ? recoloured(source) : source);
    const { layout } = figure;
    layout.width = printing ? PRINT_WIDTH : plot.clientWidth;
    if (layout.width === 0) return;
    widths.set(plot, plot.clientWidth);
    // Rows with names and drawings to scale have no height to give away.
    const firm = layout.yaxis.ticktext || layout.yaxis.scaleanchor;
    if (printing && !firm) layout.height *= PRINT_SHARE;
    layout.height = Math.min(layout.height, heightToScale(layout));
    plot.style.setProperty("--tall", `${layout.height}px`);
    Plotly.react(plot, figure.data, layout, { displayModeBar: false, displaylogo: false });
  }

  // A drawing to scale needs no more height than its width gives it.
  function heightToScale({ xaxis, yaxis, width, margin }) {
    if (!yaxis.scaleanchor) return Infinity;
    const span = ([from, to]) => Math.abs(to - from);
    const inside = width - margin.l - margin.r;
    return Math.ceil((inside * span(yaxis.range)) / span(xaxis.range)) + margin.t + margin.b;
  }

  const drawn = () => plots.filter((plot) => widths.has(plot));
  const sizes = new ResizeObserver((entries) => {
    for (const { target } of entries) {
      if (!printing && widths.get(target) !== target.clientWidth) draw(target);
    }
  });
  // Each is drawn when it comes near, and all of them before the page is printed.
  const near = new IntersectionObserver(
    (entries) => {
      for (const { target } of entries.filter((entry) => entry.isIntersecting)) {
        near.unobserve(target);
        sizes.observe(target);
      }
    },
    { rootMargin: "800px" },
  );
  plots.forEach((plot) => near.observe(plot));
  night.addEventListener("change", () => drawn().forEach(draw));
  addEventListener("beforeprint", () => {
    printing = true;
    plots.forEach(draw);
  });
  addEventListener("afterprint", () => {
    printing = false;
    drawn().forEach(draw);
  });
})();
