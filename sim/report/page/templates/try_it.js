// The what-if part: looks up a corner of the grid that came with the page and shows it.
(() => {
  "use strict";
  const data = JSON.parse(document.getElementById("whatif").textContent);
  const { grid, texts, said } = data;
  const section = document.getElementById("try");
  const form = section.querySelector("form");
  const plot = section.querySelector(".plot");
  const tried = section.querySelector(".tried");
  const { batteries, driving_hours: driving, comforts } = grid.axes;
  const QUANTILES = 3;
  // The lines are drawn in a field of so many units each way.
  const FIELD = 10000;
  const bytes = grid.trips.map(() => null);
  // A trip's charge is unpacked when it is first looked at.
  function charge(number) {
    bytes[number] ??= Uint8Array.from(atob(grid.trips[number].soc), (c) => c.charCodeAt(0));
    return bytes[number];
  }

  const chosen = (name) => Number(form.elements[name]?.value ?? grid.base[name] ?? 0);

  function answer() {
    const number = chosen("trip");
    const trip = grid.trips[number];
    // Each comfort that is left off is a bit of the last axis.
    const off = comforts.reduce((sum, _, bit) => sum + (chosen(`comfort_${bit}`) << bit), 0);
    const build = chosen("panels") * batteries.length + chosen("batteries");
    const cell = ((build * driving.length + chosen("driving_hours")) << comforts.length) + off;
    const verdict = trip.verdict[cell];
    const [alarm, sentence, ...facts] = said[number][cell].map((place) => texts[place]);
    tried.className = `tried ${verdict}`;
    for (const part of tried.querySelectorAll("[data-for]")) {
      part.style.display = part.dataset.for === verdict ? "" : "none";
    }
    tried.querySelector(".verdict strong").textContent = verdict[0].toUpperCase() + verdict.slice(1);
    const ill = tried.querySelector(".alarm");
    ill.textContent = alarm;
    ill.hidden = !alarm;
    tried.querySelector(".sentence span").textContent = sentence;
    // A value and a note for each fact.
    section.querySelectorAll("dd").forEach((fact, index) => {
      fact.querySelector("b").textContent = facts[2 * index];
      fact.querySelector("span").textContent = facts[2 * index + 1];
    });
    draw(trip, charge(number), cell);
    section.querySelectorAll(".ends span").forEach((end, n) => {
      end.textContent = data.ends[number][n];
    });
  }

  // Puts the cell's charge into the lines that came with the page.
  function draw(trip, soc, cell) {
    const points = trip.times.length;
    const place = (quantile) => {
      const first = (cell * QUANTILES + quantile) * points;
      return Array.from(soc.subarray(first, first + points), (level, n) => {
        const x = Math.round((n * FIELD) / (points - 1));
        return `${x} ${Math.round(FIELD * (1 - level / grid.levels))}`;
      });
    };
    const [low, middle, high] = [0, 1, 2].map(place);
    plot.querySelector("[data-band]").setAttribute("d", `M${[...high, ...low.reverse()].join("L")}z`);
    plot.querySelector("[data-trace]").setAttribute("d", `M${middle.join("L")}`);
  }

  section.hidden = false;
  document.getElementById("try-link").hidden = false;
  form.addEventListener("input", answer);
  form.addEventListener("submit", (event) => event.preventDefault());
  // A form is set back after its event.
  form.addEventListener("reset", () => setTimeout(answer));
  // Nobody waits for what is far down the page.
  const near = new IntersectionObserver((entries) => {
    if (!entries.some((entry) => entry.isIntersecting)) return;
    near.disconnect();
    answer();
  }, { rootMargin: "800px" });
  near.observe(section);
})();
