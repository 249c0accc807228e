// Ten sentences of the trade per language, from answers as the engine gives them. `node sentences.mjs` in the packed
// package prints them; sentences.json keeps them, so that a change shows.
import { Messages, loadLanguage } from "./dist/catalogue.js";
import { Words } from "./dist/words.js";

const model = {
  circuit: "side_loader",
  title: "Side loader",
  titles: {
    de: { arm_section: "Arm-Ventilsektion", arm_lift_relief: "Arm-Druckbegrenzung", arm_cylinder: "Armzylinder", pump: "Pumpe", "line/arm_hose": "Armschlauch", "line/lower_hose": "Senkschlauch", lock: "Sperrventil" },
    es: { arm_section: "sección del brazo", arm_lift_relief: "válvula de alivio del brazo", arm_cylinder: "cilindro del brazo", pump: "bomba", "line/arm_hose": "manguera del brazo", "line/lower_hose": "manguera de bajada", lock: "válvula de bloqueo" },
    fr: { arm_section: "section du bras", arm_lift_relief: "soupape du bras", arm_cylinder: "vérin du bras", pump: "pompe", "line/arm_hose": "flexible du bras", "line/lower_hose": "flexible de descente", lock: "clapet de retenue" },
    ar: { arm_section: "مقطع صمام الذراع", arm_lift_relief: "صمام تنفيس الذراع", arm_cylinder: "أسطوانة الذراع", pump: "المضخة", "line/arm_hose": "خرطوم الذراع", "line/lower_hose": "خرطوم الإنزال", lock: "صمام القفل" },
  },
  components: ["arm_section:arm valve section", "arm_lift_relief:arm lift relief", "arm_cylinder:arm cylinder", "pump:pump", "lock:lock valve"]
    .map((text) => ({ id: text.split(":")[0], title: text.split(":")[1] })),
  modes: [{ mode: "arm_section.spool_bore_wear", component: "arm_section", title: "spool and bore worn" }],
  observations: [],
  cautions: [],
};
const hold = { observation: "static/arm_section.a", kind: "static", test_pressure: "163 bar", limits: { seconds: 40 }, caution_ids: ["hold/1"], suspects: ["arm_section.spool_bore_wear"], setup_ids: ["lockout", "line/arm_hose"] };

export async function sentences(language) {
  await loadLanguage(language);
  const words = new Words(new Messages(language), model);
  const us = new Words(new Messages(language), model, "us");
  return [
    words.does(hold),
    words.outcomeOf(hold, "held"),
    us.outcomeOf(hold, "bled_down"),
    words.does({ ...hold, observation: "static/arm_section.a/plugged/arm_lift_relief" }),
    words.does({ ...hold, observation: "static/arm_cylinder.cap", caution_ids: ["actuator_hold/1"], test_pressure: null }),
    words.does({ observation: "look/arm_cylinder", caution_ids: [], suspects: [] }),
    words.step({ id: "release/lock" }),
    words.limit({ volume: "arm_section.a", by: "relief", part: "arm_lift_relief", stands: "204 bar", why: "" }),
    words.because(hold),
    words.say("advice.replace", { parts: words.parts(["arm_section", "arm_lift_relief"]), often: words.often(0.21) }),
  ];
}
if (process.argv[1] === new URL(import.meta.url).pathname) {
  const all = {};
  for (const language of ["en", "de", "es", "fr", "ar"]) all[language] = await sentences(language);
  console.log(JSON.stringify(all, null, 2));
}
