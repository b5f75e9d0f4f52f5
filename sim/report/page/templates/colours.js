// Colours of paper to those of a dark screen, in anything that holds colours.
function recolouring(dark) {
  "use strict";
  return function recoloured(value) {
    if (Array.isArray(value)) return value.map(recoloured);
    if (value !== null && typeof value === "object") {
      return Object.fromEntries(Object.entries(value).map(([k, v]) => [k, recoloured(v)]));
    }
    return typeof value === "string" && Object.hasOwn(dark, value) ? dark[value] : value;
  };
}
