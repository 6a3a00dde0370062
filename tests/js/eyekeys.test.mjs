import assert from "node:assert/strict";
import { test } from "node:test";
import { eyeKey } from "../../coachhub/web/static/js/core/eyekeys.js";

const looks = [{ letter: "w", choices: 3 }, { letter: "b", choices: 5 }];
const given = (key, letter = "", paths = 2) => eyeKey({ key, letter, looks, paths });

test("two keys set what is seen", () => {
  assert.deepEqual(given("W"), { act: "wait", letter: "w", number: 0, pressed: "" });
  assert.deepEqual(given("3", "w"), { act: "see", letter: "", number: 3, pressed: "w" });
  assert.equal(given("4", "w").act, "none");
  assert.equal(given("b", "w").letter, "b");
});

test("a number alone takes that suggestion, if there is one", () => {
  assert.deepEqual(given("2"), { act: "take", letter: "", number: 2, pressed: "" });
  assert.equal(given("3").act, "none");
  assert.equal(given("0").act, "none");
});

test("any other key forgets the letter and stays with the player", () => {
  assert.deepEqual(given("ArrowLeft", "w"), { act: "none", letter: "", number: 0, pressed: "" });
});
