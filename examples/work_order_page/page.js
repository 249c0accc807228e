// What a work-order page does around the panel: gives it the case, takes the order, is there without a connection.
import "./faultodds-web/index.js";

navigator.serviceWorker?.register("service_worker.js");

const panel = document.querySelector("faultodds-panel");
panel.case = {
  format: "faultodds-case/1",
  circuit: "refuse_truck",
  id: "2231",
  asset: { id: "truck 14", class: "municipal", meter_hours: 6240 },
  economics: { currency: "USD" },
  observations: [],
};

// With `cases` the panel sends the case to the adapter; a page with a server of its own sends it there from here.
panel.addEventListener("faultodds-change", ({ detail }) => {
  document.title = `Work order 2231, truck 14 (${detail.observations.length} entries)`;
});

panel.addEventListener("faultodds-order", ({ detail }) => {
  const parts = detail.components.map((id) => Object.assign(document.createElement("li"), { textContent: id }));
  document.querySelector("#parts").replaceChildren(...parts);
});

document.querySelector("#language").addEventListener("change", ({ target }) => panel.setAttribute("lang", target.value));
document.querySelector("#print").addEventListener("click", () => print());
