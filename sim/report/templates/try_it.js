// The what-if part: looks up a corner of the grid that came with the page and shows it.
(() => {
  "use strict";
  const data = JSON.parse(document.getElementById("whatif").textContent);
  const { grid, figure, gap } = data;
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

  function recoloured(value) {
    if (Array.isArray(value)) return value.map(recoloured);
    if (value !== null && typeof value === "object") {
      return Object.fromEntries(Object.entries(value).map(([k, v]) => [k, recoloured(v)]));
    }
    return typeof value === "string" && Object.hasOwn(data.dark, value) ? data.dark[value] : value;
  }

  // As the first screen says it: 1 hour, 2.4 hours, none.
  function hours(value) {
    if (value === 0) return "none";
    if (value < 0.05) return `under 0.1${gap}hours`;
    const text = value.toLocaleString("en-US", {
      minimumFractionDigits: 1, maximumFractionDigits: 1,
    }).replace(/\.0$/, "");
    return `${text}${gap}hour${text === "1" ? "" : "s"}`;
  }

  function happens(held, draws, dark) {
    const missed = draws - held;
    if (missed === 0) {
      const where = draws > 1 ? `all ${draws} possible weathers` : "the weather computed";
      return `In ${where} nothing aboard goes dark.`;
    }
    const often = hours((dark * draws) / missed);
    if (draws === 1) return `In the weather computed something is off for ${often}.`;
    if (held === 0) {
      return `In every one of ${draws} possible weathers something is off, for ${often} on average.`;
    }
    const rest = missed === 1
      ? `the other one something is off for ${often}`
      : `the other ${missed} something is off for ${often} on average`;
    return `In ${held} of ${draws} possible weathers nothing aboard goes dark; in ${rest}.`;
  }

  function answer() {
    const trip = grid.trips[chosen("trip")];
    const cell = (chosen("panels") * batteries + chosen("batteries")) * driving
      + chosen("driving_hours");
    const verdict = trip.verdict[cell];
    const held = trip.held[cell];
    const dark = trip.dark_hours_mean[cell];
    tried.className = `tried ${verdict}`;
    for (const part of tried.querySelectorAll("[data-for]")) {
      part.style.display = part.dataset.for === verdict ? "" : "none";
    }
    tried.querySelector("strong").textContent = verdict[0].toUpperCase() + verdict.slice(1);
    tried.querySelector(".sentence").textContent =
      `${data.leads[verdict]} ${happens(held, trip.draws, dark)}`;
    const fact = (name) => section.querySelector(`[data-fact="${name}"]`);
    fact("lowest").textContent = `${Math.round(100 * trip.lowest_soc_p10[cell])}${gap}%`;
    fact("dark").textContent = hours(dark);
    fact("held").textContent = `${held} of ${trip.draws}`;
    draw(trip, bytes[chosen("trip")], cell);
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
