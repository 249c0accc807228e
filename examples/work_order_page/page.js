// What a work-order page does around the panel: gives it the case, keeps what comes back, takes the order.
import "./faultodds-web/index.js";

const panel = document.querySelector("faultodds-panel");
panel.case = {
  format: "faultodds-case/1",
  circuit: "refuse_truck",
  id: "2231",
  asset: { id: "truck 14", class: "municipal", meter_hours: 6240 },
  economics: { currency: "USD" },
  observations: [],
};

// A real page sends the case to its server here. It is the whole record of the work.
panel.addEventListener("faultodds-change", ({ detail }) => {
  document.title = `Work order 2231, truck 14 (${detail.observations.length} entries)`;
});

panel.addEventListener("faultodds-order", ({ detail }) => {
  const parts = detail.components.map((id) => Object.assign(document.createElement("li"), { textContent: id }));
  document.querySelector("#parts").replaceChildren(...parts);
});

document.querySelector("#language").addEventListener("change", ({ target }) => panel.setAttribute("lang", target.value));
document.querySelector("#print").addEventListener("click", () => print());
