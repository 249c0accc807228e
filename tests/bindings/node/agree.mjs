// Whether an answer has what a vector expects of it, numbers within the vectors' tolerance.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";

const TABLE = JSON.parse(readFileSync(join(process.env.FAULTODDS_SOURCE, "tests/vectors/assessments.json"), "utf8"));

// What an item of a list is found by, whatever its place; undefined if it has no name.
const nameOf = (item) => item?.mode ?? item?.observation ?? item?.components?.join(" ");

// Whether the items of a list can be found by their names.
function areNamed(items) {
  const names = items.map(nameOf);
  return names.every(Boolean) && new Set(names).size === names.length;
}

function eachFound(expected, actual, place) {
  for (const item of expected) {
    const found = actual.find((other) => nameOf(other) === nameOf(item));
    assert.ok(found, `${place}/${nameOf(item)} is missing`);
    agree(item, found, `${place}/${nameOf(item)}`);
  }
}

export function agree(expected, actual, place) {
  if (Array.isArray(expected)) {
    assert.equal(actual?.length, expected.length, place);
    if (areNamed(expected)) return eachFound(expected, actual, place);
    expected.forEach((wanted, i) => agree(wanted, actual[i], `${place}/${i}`));
  } else if (expected !== null && typeof expected === "object") {
    for (const [key, wanted] of Object.entries(expected)) {
      if (key === "among") {
        for (const [name, items] of Object.entries(wanted)) eachFound(items, actual[name], `${place}/${name}`);
      } else {
        assert.ok(Object.hasOwn(actual, key), `${place}/${key} is missing`);
        agree(wanted, actual[key], `${place}/${key}`);
      }
    }
  } else if (typeof expected === "number") {
    const difference = Math.abs(expected - actual);
    assert.ok(
      difference <= TABLE.tolerance * Math.max(1, Math.abs(expected)),
      `${place}: expected ${expected}, got ${actual}`);
  } else {
    assert.equal(actual, expected, place);
  }
}
