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

  function draw(plot, printing) {
    const source = data.figures[plot.dataset.figure];
    const figure = structuredClone(night.matches && !printing ? recoloured(source) : source);
    figure.layout.width = printing ? PRINT_WIDTH : plot.clientWidth;
    if (figure.layout.width === 0) return;
    if (printing) figure.layout.height *= PRINT_SHARE;
    Plotly.react(plot, figure.data, figure.layout, { displayModeBar: false, displaylogo: false });
  }

  const all = (printing) => plots.forEach((plot) => draw(plot, printing));
  const sizes = new ResizeObserver((entries) => {
    for (const { target } of entries) {
      if (widths.get(target) === target.clientWidth) continue;
      widths.set(target, target.clientWidth);
      draw(target, false);
    }
  });
  plots.forEach((plot) => sizes.observe(plot));
  night.addEventListener("change", () => all(false));
  addEventListener("beforeprint", () => all(true));
  addEventListener("afterprint", () => all(false));
})();
