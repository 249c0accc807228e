// Every state of <faultodds-panel>, each on answers that the engine gave when the page was made (data.json). A page for
// who fits the element into another: open it, change custom properties, look at each.
import { Refusal, Unreachable } from "faultodds-web";
import data from "./data.json";

const seen = (theCase) => JSON.stringify(theCase.observations.map((entry) =>
  "repaired" in entry ? entry.repaired : [entry.observation ?? entry.not_possible, entry.outcome ?? entry.reason]));
const answer = (theCase) => {
  const found = data.answers[seen(theCase)];
  if (!found) throw new Unreachable(`no answer for ${seen(theCase)}`);
  return structuredClone(found);
};

/** Answers from the file; `change` makes of them what is rare. */
function assessor(change = (given) => given) {
  return {
    model: async () => structuredClone(data.model),
    assess: async (theCase) => change(answer(theCase), theCase),
    plan: async () => structuredClone(data.plan),
    propose: async () => data.proposals,
  };
}

const never = new Promise(() => {});
const settled = (panel, connection) => new Promise((resolve) => {
  const look = () => (panel.job.connection === connection ? resolve() : setTimeout(look, 20));
  look();
});
const shown = (panel, selector) => new Promise((resolve) => {
  const look = () => {
    const found = panel.shadowRoot.querySelector(selector);
    if (found) resolve(found);
    else setTimeout(look, 20);
  };
  look();
});

// id, what it is, case, attributes, what is done to the panel once it stands there.
const { complaint, first, second, order, repaired } = data.cases;
export const stories = [
  ["waiting", "Nothing has come yet.", complaint, {}, (panel) => (panel.assessor = { model: () => never, assess: () => never })],
  ["complaint", "Nothing abnormal was seen: nothing is ranked.", complaint, {}],
  ["complaint-in-words", "The work order's own text proposes symptoms.", complaint, { complaint: "the arm comes down by itself" }],
  ["first-step", "A symptom is known: what is likely, and the first test with all its cautions.", first, {}],
  ["second-step", "A test was made: the cautions for all work can be folded.", second, {}],
  ["could-not", "Why a test was not made is asked.", first, {}, async (panel) => ((await shown(panel, "details[data-keep=could-not]")).open = true)],
  ["reading", "A reading in place of an outcome.", first, {}, async (panel) => ((await shown(panel, "details[data-keep=reading]")).open = true)],
  ["contradiction", "What was seen contradicts itself.", second, {}, (panel) => {
    panel.assessor = assessor((given) => {
      if (given.advice) given.advice.contradiction = { observation: second.observations[1].observation, wrong: 0.6, any_wrong: 0.7 };
      return given;
    });
  }],
  ["plan", "The plan as a tree.", first, {}, async (panel) => ((await shown(panel, "details[data-keep=plan]")).open = true)],
  ["expert", "For experts: odds, decibans, why.", second, {}, async (panel) => ((await shown(panel, "details[data-keep=expert]")).open = true)],
  ["order", "Testing can stop: what to order.", order, {}],
  ["repaired", "After the repair: what verifies it.", repaired, {}],
  ["offline", "The connection is gone; the last answer stands.", first, {}, async (panel) => {
    const there = assessor();
    let gone = false;
    panel.assessor = { ...there, assess: async (theCase) => (gone ? Promise.reject(new Unreachable("gone")) : there.assess(theCase)) };
    await shown(panel, ".outcome");
    gone = true;
    panel.job.reconnect();
    await settled(panel, "offline");
  }],
  ["offline-new", "No connection, and nothing to show.", first, {}, (panel) => {
    panel.assessor = { model: async () => Promise.reject(new Unreachable("gone")), assess: async () => Promise.reject(new Unreachable("gone")) };
  }],
  ["refused", "An entry was not taken.", first, {}, async (panel) => {
    await settled(panel, "ready");
    const next = panel.assessment.tests[0];
    panel.assessor = assessor((given, theCase) => {
      if (theCase.observations.length > 1) throw new Refusal("invalid_case", "the reading is out of range", "/case/observations/1");
      return given;
    });
    await settled(panel, "ready");
    panel.job.enter({ observation: next.observation, outcome: "bled_down" }, null);
  }],
  ["elsewhere", "Somebody else entered something meanwhile.", first, {}, async (panel) => {
    await settled(panel, "ready");
    panel.job.setup("lockout", true);
    panel.cases = { load: async () => ({ theCase: second, revision: "1" }), save: async () => "2" };
  }],
  ["german", "In German.", first, { lang: "de" }],
  ["spanish", "In Spanish.", first, { lang: "es" }],
  ["french", "In French.", first, { lang: "fr" }],
  ["arabic", "In Arabic, from right to left.", first, { lang: "ar" }],
  ["units", "In psi and gallons.", first, { units: "us" }],
];

export function show(into, only) {
  for (const [id, about, theCase, attributes, change] of stories) {
    if (only && only !== id) continue;
    const panel = document.createElement("faultodds-panel");
    for (const [name, value] of Object.entries({ circuit: "refuse_truck", lang: "en", ...attributes })) panel.setAttribute(name, value);
    panel.assessor = assessor();
    if (!("complaint" in attributes)) panel.propose = async () => [];
    panel.case = { ...structuredClone(theCase), id };
    const title = document.createElement("h2");
    title.textContent = id;
    title.id = `story-${id}`;
    const text = document.createElement("p");
    text.textContent = about;
    const section = document.createElement("section");
    section.setAttribute("aria-labelledby", title.id);
    section.append(title, text, panel);
    into.append(section);
    void Promise.resolve(change?.(panel)).then(() => section.setAttribute("data-ready", ""));
  }
}

show(document.querySelector("main"), new URLSearchParams(location.search).get("story"));
