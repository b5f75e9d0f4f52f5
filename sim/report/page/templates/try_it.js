// The what-if part: looks up a corner of the grid that came with the page and shows it.
(() => {
  "use strict";
  const data = JSON.parse(document.getElementById("whatif").textContent);
  const recoloured = recolouring(data.dark);
  const { grid, texts, said, figure } = data;
  const section = document.getElementById("try");
  const form = section.querySelector("form");
  const plot = section.querySelector(".plot");
  const tried = section.querySelector(".tried");
  const night = matchMedia("(prefers-color-scheme: dark)");
  const [, batteries, driving] = ["panels", "batteries", "driving_hours"].map(
    (name) => grid.axes[name].length,
  );
  const QUANTILES = 3;
  const bytes = grid.trips.map((trip) => Uint8Array.from(atob(trip.soc), (c) => c.charCodeAt(0)));

  const chosen = (name) => Number(form.elements[name]?.value ?? grid.base[name] ?? 0);

  function answer() {
    const number = chosen("trip");
    const trip = grid.trips[number];
    const cell = (chosen("panels") * batteries + chosen("batteries")) * driving
      + chosen("driving_hours");
    const verdict = trip.verdict[cell];
    const [sentence, ...told] = said[number][cell].map((place) => texts[place]);
    tried.className = `tried ${verdict}`;
    for (const part of tried.querySelectorAll("[data-for]")) {
      part.style.display = part.dataset.for === verdict ? "" : "none";
    }
    tried.querySelector("strong").textContent = verdict[0].toUpperCase() + verdict.slice(1);
    tried.querySelector(".sentence").textContent = sentence;
    // A value and a note for each fact.
    section.querySelectorAll("dd").forEach((fact, index) => {
      fact.querySelector("b").textContent = told[2 * index];
      fact.querySelector("span").textContent = told[2 * index + 1];
    });
    draw(trip, bytes[number], cell);
  }

  function draw(trip, soc, cell) {
    const points = trip.times.length;
    const line = (quantile) => {
      const first = (cell * QUANTILES + quantile) * points;
      return Array.from(soc.subarray(first, first + points), (level) => (100 * level) / grid.levels);
    };
    const shown = structuredClone(night.matches ? recoloured(figure) : figure);
    // Top of the band, its bottom, the median.
    [2, 0, 1].forEach((quantile, index) => {
      shown.data[index].x = trip.times;
      shown.data[index].y = line(quantile);
    });
    shown.layout.width = plot.clientWidth;
    if (shown.layout.width > 0) {
      Plotly.react(plot, shown.data, shown.layout, { displayModeBar: false, displaylogo: false });
    }
  }

  section.hidden = false;
  document.getElementById("try-link").hidden = false;
  form.addEventListener("input", answer);
  form.addEventListener("submit", (event) => event.preventDefault());
  // A form is set back after its event.
  form.addEventListener("reset", () => setTimeout(answer));
  night.addEventListener("change", answer);
  let width = 0;
  const sizes = new ResizeObserver(() => {
    if (plot.clientWidth === width) return;
    width = plot.clientWidth;
    answer();
  });
  // Drawn when it comes near, as the other charts are.
  const near = new IntersectionObserver((entries) => {
    if (!entries.some((entry) => entry.isIntersecting)) return;
    near.disconnect();
    sizes.observe(plot);
  }, { rootMargin: "800px" });
  near.observe(section);
})();
