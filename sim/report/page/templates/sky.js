// Draws the year of a place, in the colours of paper or of a dark screen.
(() => {
  "use strict";
  const data = JSON.parse(document.getElementById("data").textContent);
  const recoloured = recolouring(data.dark);
  const plot = document.querySelector(".plot");
  const night = matchMedia("(prefers-color-scheme: dark)");
  const PRINT_WIDTH = 640;

  function draw(printing) {
    const figure = structuredClone(night.matches && !printing ? recoloured(data.figure) : data.figure);
    figure.layout.width = printing ? PRINT_WIDTH : plot.clientWidth;
    Plotly.react(plot, figure.data, figure.layout, { displayModeBar: false, displaylogo: false });
  }

  let width = 0;
  new ResizeObserver(() => {
    if (plot.clientWidth !== width) {
      width = plot.clientWidth;
      draw(false);
    }
  }).observe(plot);
  night.addEventListener("change", () => draw(false));
  addEventListener("beforeprint", () => draw(true));
  addEventListener("afterprint", () => draw(false));
})();
