// The web element without a browser: its words and its units. tests/screen shows it in one.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, readdirSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { gzipSync } from "node:zlib";
import { test } from "node:test";
import { numberOf, readingsOf } from "./dist/reading.js";
import IntlMessageFormat from "intl-messageformat";
import { Messages, loadLanguage, replaceMessages } from "./dist/catalogue.js";
import { quantity } from "./dist/units.js";
import { Words } from "./dist/words.js";
import { sentences } from "./sentences.mjs";

const root = process.env.FAULTODDS_SOURCE;
const lift = join(root, "tests/bindings/lift.json");
const directory = mkdtempSync(join(tmpdir(), "faultodds-"));

/** The assessment by the C example, or its error object. */
function assess(...observations) {
  const name = join(directory, "case.json");
  writeFileSync(name, JSON.stringify({ format: "faultodds-case/1", advice: false, detail: "full", observations }));
  try {
    return JSON.parse(execFileSync(process.env.FAULTODDS_EMBED, [lift, name], { encoding: "utf8" }));
  } catch (refused) {
    return JSON.parse(refused.stdout);
  }
}

const languages = ["en", "de", "es", "fr", "ar"];
const catalogues = Object.fromEntries(languages.map((language) =>
  [language, JSON.parse(readFileSync(join(root, `capi/words/${language}.json`), "utf8"))]));
const english = new Messages("en");

const cautions = [...readFileSync(join(root, "core/circuit/cautions.cpp"), "utf8").matchAll(/"(\w+\/\d)"/g)].map(([, id]) => id);
assert.ok(cautions.length > 15);

/** Ids of a kind that the library's sources say, as they stand in quotes. */
function saidInSources(kind) {
  const ids = new Set();
  const walk = (directory) => readdirSync(directory, { withFileTypes: true }).forEach((entry) => {
    const path = join(directory, entry.name);
    if (entry.isDirectory()) walk(path);
    else if (/\.(cpp|h)$/.test(entry.name)) {
      for (const [, id] of readFileSync(path, "utf8").matchAll(new RegExp(`"(${kind}\\.[a-z_.]+[a-z])"`, "g"))) ids.add(id);
    }
  });
  for (const directory of ["core", "capi"]) walk(join(root, directory));
  return [...ids].sort();
}

/** The names of a message's values, without the words of its plural forms. */
function valuesOf(text) {
  const names = new Set();
  const walk = (nodes) => nodes.forEach((node) => {
    if (node.value && node.type !== 0) names.add(node.value);
    for (const option of Object.values(node.options ?? {})) walk(option.value);
  });
  walk(new IntlMessageFormat(text, "en", undefined, { ignoreTag: true }).getAst());
  return [...names].sort();
}

for (const language of languages.slice(1)) {
  test(`${language} has every message that English has, and no other, with the same values in it`, () => {
    assert.deepEqual(Object.keys(catalogues[language]), Object.keys(catalogues.en));
    for (const [id, text] of Object.entries(catalogues[language])) {
      assert.ok(text.trim(), id);
      assert.deepEqual(valuesOf(text), valuesOf(catalogues.en[id]), id);
    }
  });

  test(`${language} says nothing in English`, () => {
    // Words that are the same in both, each looked at.
    const same = { de: ["port.ls", "ui.unitsMetric", "ui.unitsUs", "ui.minutes", "ui.symptom", "outcome.normal", "outcome.warm"],
      es: ["port.ls", "ui.unitsMetric", "ui.unitsUs", "ui.minutes", "outcome.normal"],
      fr: ["port.ls", "ui.unitsMetric", "ui.unitsUs", "ui.minutes", "ui.suspects", "ui.certain", "outcome.normal", "field.distance"], ar: ["port.ls"] }[language];
    for (const [id, text] of Object.entries(catalogues[language])) {
      const words = text.replace(/\{\w+, plural,|=\d+|\b(one|two|few|many|other|zero)\b(?= \{)|\{\w+\}|`\w+`/g, " ");
      // Where there is nothing but values, or names of units, nothing is to be translated.
      if (!same.includes(id) && /\p{L}{2}/u.test(words)) assert.notEqual(text, catalogues.en[id], id);
      assert.doesNotMatch(words, /\b(the|with|which|and|from|before|this|what|pressure)\b/, `${id}: ${text}`);
      if (language === "ar") assert.doesNotMatch(words, /[a-zA-Z]{4,}/, `${id}: ${text}`);
    }
  });

  test(`every plural form of ${language} is spelt out`, () => {
    const forms = new Intl.PluralRules(language).resolvedOptions().pluralCategories;
    for (const tenths of [0, 1, 2, 3, 5, 10]) {
      assert.ok(new Messages(language).say("ui.often", { tenths }), `${tenths}`);
    }
    assert.ok(forms.includes("other"));
  });
}
for (const language of languages.slice(1)) await loadLanguage(language);

test("every caution of the library has words in the catalogues, and they have none that it does not know", () => {
  const known = Object.keys(catalogues.en).filter((id) => id.startsWith("caution.")).map((id) => id.slice("caution.".length));
  assert.deepEqual(known, [...cautions].sort());
});

for (const kind of ["because", "reason", "trail", "warning", "not_proposed", "note", "card", "read"]) {
  test(`every message "${kind}." that the library says is in the catalogues`, () => {
    const said = saidInSources(kind);
    assert.ok(said.length > 1, `${said}`);
    assert.deepEqual(said.filter((id) => catalogues.en[id] === undefined), []);
  });
}

test("the library's own small MessageFormat says every message as a whole one does", () => {
  const counts = [0, 1, 2, 3, 5, 11, 100, 1000];
  const said = JSON.parse(execFileSync(process.env.FAULTODDS_SAY, counts.map(String), { encoding: "utf8", maxBuffer: 1 << 26 }));
  const digits = { numberingSystem: "latn", useGrouping: false };
  for (const language of languages) {
    for (const [id, text] of Object.entries(catalogues[language])) {
      const message = new IntlMessageFormat(text, new Intl.Locale(language, { numberingSystem: "latn" }).toString(),
        { number: { plain: digits } }, { ignoreTag: true });
      const plural = [...text.matchAll(/\{(\w+), plural/g)].map(([, name]) => name);
      counts.forEach((number, i) => {
        const values = Object.fromEntries(valuesOf(text).map((name) => [name, plural.includes(name) ? number : `<${name}>`]));
        const wanted = String(message.format(values)).replace(/1[.,\u00a0\u202f٬]000/g, "1000");
        assert.equal(said[language][id][i], wanted, `${language} ${id} ${number}`);
      });
    }
  }
});

test("nothing in core is a sentence for people", () => {
  // Refusals and findings on documents are for who writes them; they stand in calls that say so.
  const files = ["circuit/cautions", "diagnosis/adviser_words", "diagnosis/explanation", "diagnosis/evidence_trail", "diagnosis/said",
    "diagnosis/preparation", "hydraulics/statics_ids", "circuit/unopened"];
  for (const file of files) {
    const source = readFileSync(join(root, `core/${file}.cpp`), "utf8").replace(/^#include.*$|\/\/.*$/gm, "");
    assert.deepEqual([...source.matchAll(/"([^"\n]*)"/g)].map(([, text]) => text).filter((text) => /[a-z] [a-z]/.test(text)), [], file);
  }
});

test("every failure mode of the shipped types, every limit of a pressure and every reason without one has a message", () => {
  const { types } = JSON.parse(readFileSync(join(root, "core/circuit/catalogue.json"), "utf8"));
  for (const type of Object.values(types)) {
    for (const mode of Object.keys(type.failure_modes ?? {})) assert.ok(english.has(`mode.${mode}`), mode);
    for (const port of type.ports) assert.ok(port.length === 1 || english.has(`port.${port}`), port);
    for (const way of Object.keys(type.actuator?.directions ?? {})) {
      assert.ok(english.has(`way.${way}`) && english.has(`direction.${way}`), way);
    }
  }
  const source = readFileSync(join(root, "core/hydraulics/statics_ids.cpp"), "utf8");
  const limits = [...source.matchAll(/case LimitBy::(\w+):\s*return "(\w+)";/g)].map(([, , id]) => id);
  assert.ok(limits.length > 6);
  for (const id of limits) assert.ok(english.has(`limit.${id === "line" ? "hose" : id}`), id);
  const reasons = [...source.matchAll(/case Reason::(\w+):\s*return "(\w+)";/g)].map(([, , id]) => id);
  assert.ok(reasons.length > 10);
  for (const id of reasons) assert.ok(english.has(`refused.${id}`), id);
});

test("ten sentences of the trade per language are as they were reviewed", async () => {
  const reviewed = JSON.parse(readFileSync(join(root, "tests/bindings/web/sentences.json"), "utf8"));
  for (const language of languages) {
    assert.equal(reviewed[language].length, 10);
    assert.deepEqual(await sentences(language), reviewed[language], language);
  }
});

test("figures are rounded as a gauge is read, a pressure that must not be passed down", () => {
  assert.equal(quantity("163.4 bar", "written", "en", "down"), "160 bar");
  assert.equal(quantity("163.4 bar", "us", "en", "down"), "2,350 psi");
  assert.equal(quantity("163.4 bar", "written", "en", "up"), "165 bar");
  assert.equal(quantity("2400 psi", "metric", "de", "near"), "165 bar");
  assert.equal(quantity("0.0314 L/min", "written", "de"), "0,031 L/min");
  assert.equal(quantity("80 mm", "us", "en"), "3.1 in");
  assert.equal(quantity("40 degC", "us", "en"), "100 °F");
  assert.equal(quantity("what it says", "us", "en"), "what it says");
});

test("every unit that a reading offers is one that the library takes", () => {
  const values = {
    leak_rate: 5, pressure_drop: 0.001, time: 3, volume: 1, pressure: 20, temperature_start: 40, temperature_end: 40,
    supply_flow: 5, below: 1, distance: 2, flow: 9,
  };
  const observations = { static: "static/section.a", drift: "drift/cylinder/retract", flow: "flow/pump" };
  let tried = 0;
  for (const [kind, observation] of Object.entries(observations)) {
    for (const form of readingsOf(kind)) {
      assert.ok(english.has(`reading.${form.id}`), form.id);
      for (const varied of form.fields) {
        assert.ok(english.has(`field.${varied.key}`), varied.key);
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
  for (const outcome of outcomes) assert.ok(english.has(`outcome.${outcome}`), outcome);
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

test("a page replaces single messages or adds a language, and what it leaves out is as it was", () => {
  replaceMessages("fr", { "ui.next": "À faire" });
  assert.equal(new Messages("fr-CA").say("ui.next"), "À faire");
  assert.equal(new Messages("fr").say("ui.bring"), catalogues.fr["ui.bring"]);
  replaceMessages("xx", { "ui.next": "xx" });
  assert.equal(new Messages("xx").say("ui.bring"), catalogues.en["ui.bring"]);
  assert.throws(() => replaceMessages("fr", { "ui.next": "{broken" }));
});

test("names of a document that objects know of themselves are shown as they are written", () => {
  // What the panel's elements need of a page.
  globalThis.document = { createElement: () => ({ text: "", setAttribute() {}, append(text) { this.text += text; } }) };
  const words = new Words(english, { circuit: "", title: "", components: [], modes: [], observations: [], cautions: [] });
  for (const name of ["__proto__", "constructor", "toString", "hasOwnProperty", "valueOf"]) {
    assert.equal(words.outcome(name), name.replaceAll("_", " "));
    assert.equal(words.caution(name, name).text, name);
    assert.equal(words.part(name), name);
    assert.equal(words.entry({ observation: name, outcome: name }).value, name.replaceAll("_", " "));
    const reading = JSON.parse(`{"${name}": "12 bar"}`);
    assert.equal(words.entry({ observation: name, reading }).value, `${name} 12 bar`);
  }
  delete globalThis.document;
});

test("the element takes at most 60 kB compressed, with a language besides English", () => {
  const size = (name) => gzipSync(readFileSync(join("dist", name))).length;
  const languages = readdirSync("dist").filter((name) => /^part-.*\.js$/.test(name));
  assert.ok(languages.length >= 4, `${languages}`);
  const whole = size("index.js") + Math.max(...languages.map(size));
  assert.ok(whole <= 60_000, `${whole} bytes`);
});

test("the package brings its types and no dependencies", () => {
  const { dependencies, exports } = JSON.parse(readFileSync("package.json", "utf8"));
  assert.equal(dependencies, undefined);
  assert.match(readFileSync(exports["."].types, "utf8"), /FaultoddsPanel/);
});
