// The same bytes whatever locale the process has. Node sets none by itself; what is loaded into it may. LOCPATH names the
// directory of tests/abi/make_locales.sh.
import assert from "node:assert/strict";
import { existsSync } from "node:fs";
import { test } from "node:test";
import koffi from "koffi";
import { FaultoddsError, Model, assess, learnPriors } from "faultodds";
import { TABLE, read } from "./documents.mjs";

const LC_ALL = 6;
const skip = process.platform !== "linux" || !existsSync(`${process.env.LOCPATH}/de_DE.UTF-8`) ? "no locales were made" : false;

function told(call) {
  try {
    return JSON.stringify(call());
  } catch (refused) {
    assert.ok(refused instanceof FaultoddsError);
    return `${refused.code} ${refused.pointer} ${refused.message}`;
  }
}

const RECORDS = "work_order,closed,asset_class,component,finding,grade,hours\n" + Array.from({ length: 30 },
  (_, i) => `W-${i},2024-03-05,loader,port_relief,${i % 3 ? "none," : "seat_leak,failed"},${100 + 13.5 * i}\n`).join("");

function* answers() {
  const models = new Map();
  for (const { circuit, case: theCase } of TABLE.vectors) {
    if (models.has(circuit)) {
      yield told(() => models.get(circuit).assess(theCase));
      continue;
    }
    const model = new Model(read(circuit));
    models.set(circuit, model);
    yield told(() => assess(read(circuit), theCase));
    yield told(() => model.note(theCase));
  }
  for (const model of models.values()) model.close();
  yield told(() => learnPriors(RECORDS, { source: "depot" }));
}

test("every vector is answered or refused with the same bytes in every locale", { skip }, () => {
  const libc = koffi.load("libc.so.6");
  const setlocale = libc.func("const char* setlocale(int category, const char* name)");
  const strtod = libc.func("double strtod(const char* text, void* end)");
  const expected = [...answers()];
  assert.ok(expected.join("").length > 200_000);
  try {
    for (const [name, half] of [["de_DE.UTF-8", "0,5"], ["hi_IN.UTF-8", "0.5"]]) {
      assert.equal(setlocale(LC_ALL, name), name);
      assert.equal(strtod(half, null), 0.5, "the locale is in force");
      let at = 0;
      for (const answer of answers()) assert.equal(answer, expected[at++], name);
      assert.equal(at, expected.length);
      assert.equal(setlocale(LC_ALL, null), name, "it stays so");
    }
  } finally {
    setlocale(LC_ALL, "C");
  }
});
