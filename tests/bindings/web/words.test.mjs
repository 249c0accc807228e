// The web element without a browser: its words and its units. tests/screen shows it in one.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { test } from "node:test";
import { numberOf, readingsOf } from "./dist/reading.js";
import { addLanguage, english, filled, stringsOf } from "./dist/strings.js";
import { Words } from "./dist/words.js";

const root = process.env.FAULTODDS_SOURCE;
const lift = join(root, "tests/bindings/lift.json");
const directory = mkdtempSync(join(tmpdir(), "faultodds-"));

/** The assessment by the C example, or its error object. */
function assess(...observations) {
  const name = join(directory, "case.json");
  writeFileSync(name, JSON.stringify({ format: "faultodds-case/1", advice: false, observations }));
  try {
    return JSON.parse(execFileSync(process.env.FAULTODDS_EMBED, [lift, name], { encoding: "utf8" }));
  } catch (refused) {
    return JSON.parse(refused.stdout);
  }
}

// The sentences of the source: literals side by side are one, a comma begins the next.
const derived = [...readFileSync(join(root, "core/circuit/cautions.cpp"), "utf8").matchAll(/texts = \{([^]*?)\};/g)]
  .flatMap(([, block]) => block.split(/",\s*(?=")/))
  .map((literals) => literals.trim().replace(/^"|"$/g, "").replace(/"\s*"/g, ""));
assert.ok(derived.length > 15);

const placeholders = (sentence) => [...sentence.matchAll(/\{\w+\}/g)].map(String).sort();

for (const language of ["de", "es"]) {
  const strings = stringsOf(language);

  test(`${language} says everything that English says, with the same values in it`, () => {
    for (const [key, sentence] of Object.entries(english)) {
      if (typeof sentence === "string") {
        assert.ok(strings[key], key);
        assert.deepEqual(placeholders(strings[key]), placeholders(sentence), key);
      } else if (key !== "cautionTexts") {
        assert.deepEqual(Object.keys(strings[key]).sort(), Object.keys(sentence).sort(), key);
      }
    }
  });

  test(`${language} has every caution that the library derives, as it says it today`, () => {
    const translated = Object.keys(strings.cautionTexts);
    assert.deepEqual(translated.filter((text) => !derived.includes(text)), [], "says what the library no longer says");
    assert.deepEqual(derived.filter((text) => !translated.includes(text)), [], "lacks what the library says");
    for (const caution of assess().cautions) assert.ok(strings.cautionTexts[caution], caution);
  });
}

test("every unit that a reading offers is one that the library takes", () => {
  const values = {
    leak_rate: 5, pressure_drop: 0.001, time: 3, volume: 1, pressure: 20, temperature_start: 40, temperature_end: 40,
    supply_flow: 5, below: 1, distance: 2, flow: 9,
  };
  const observations = { static: "static/section.a", drift: "drift/cylinder/retract", flow: "flow/pump" };
  let tried = 0;
  for (const [kind, observation] of Object.entries(observations)) {
    for (const form of readingsOf(kind)) {
      assert.ok(english.readings[form.id], form.id);
      for (const varied of form.fields) {
        assert.ok(english.fields[varied.key], varied.key);
        for (const unit of varied.units) {
          const reading = Object.fromEntries(
            form.fields.map(({ key, units }) => [key, `${values[key]} ${key === varied.key ? unit : units[0]}`]));
          if ("temperature_start" in reading) reading.temperature_end = reading.temperature_start;
          const told = assess({ observation, reading });
          assert.equal(told.format, "faultodds-assessment/1", `${JSON.stringify(reading)}: ${told.message}`);
          ++tried;
        }
      }
    }
  }
  assert.ok(tried > 30);
});

test("every outcome that the library derives has a word", () => {
  const outcomes = new Set(assess().tests.flatMap(({ probability }) => Object.keys(probability)));
  assert.ok(outcomes.size > 5);
  for (const outcome of outcomes) assert.ok(english.outcomes[outcome], outcome);
});

test("numbers may have a comma or a point, and only temperatures a sign", () => {
  assert.equal(numberOf(" 12,5 "), "12.5");
  assert.equal(numberOf("12.5"), "12.5");
  assert.equal(numberOf("-3", true), "-3");
  assert.equal(numberOf("−3", true), "-3");
  for (const wrong of ["", "-3", "1.200,5", "1 200", "12e3", "a few", "1,2,3", "NaN"]) {
    assert.equal(numberOf(wrong), null, wrong);
  }
});

test("a page can add a language, and what it leaves out is English", () => {
  addLanguage("fr", { tests: "Essais suivants" });
  assert.equal(stringsOf("fr-CA").tests, "Essais suivants");
  assert.equal(stringsOf("fr").suspects, english.suspects);
  assert.equal(stringsOf("xx"), english);
});

test("values are put into sentences, and a missing one is left to be seen", () => {
  assert.equal(filled("{a} and {b}", { a: 1 }), "1 and {b}");
});

test("names of a document that objects know of themselves are shown as they are written", () => {
  // What the panel's elements need of a page.
  globalThis.document = { createElement: () => ({ text: "", setAttribute() {}, append(text) { this.text += text; } }) };
  const words = new Words(english, "en", { title: "", components: [], modes: [], observations: [], cautions: [] });
  for (const name of ["__proto__", "constructor", "toString", "hasOwnProperty", "valueOf"]) {
    assert.equal(words.outcome(name), name.replaceAll("_", " "));
    assert.equal(words.caution(name).text, name);
    assert.equal(words.part(name), name);
    assert.equal(words.entry({ observation: name, outcome: name }).value, name.replaceAll("_", " "));
    const reading = JSON.parse(`{"${name}": "12 bar"}`);
    assert.equal(words.entry({ observation: name, reading }).value, `${name} 12 bar`);
    assert.equal(filled(`{${name}}`, {}), `{${name}}`);
    assert.equal(stringsOf(name), english);
  }
  delete globalThis.document;
});

test("the package brings its types and no dependencies", () => {
  const { dependencies, exports } = JSON.parse(readFileSync("package.json", "utf8"));
  assert.equal(dependencies, undefined);
  assert.match(readFileSync(exports["."].types, "utf8"), /FaultoddsPanel/);
});
