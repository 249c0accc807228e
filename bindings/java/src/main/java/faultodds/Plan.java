package faultodds;

import faultodds.Assessment.*;

import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.OptionalInt;

// Written by bindings/declare.py from capi/documents/answers.json; not to be edited.

/**
 * The tests to make one after the other, by outcome; without a complaint {@code complaint} and {@code tree} are null
 * and the rest is absent: "faultodds-plan/1".
 *
 * @param json the document as the library wrote it
 * @param format names the format
 * @param circuit id of the circuit
 * @param cautions to be shown before everything
 * @param asset the machine; absent where there is none
 * @param complaint the abnormal symptom; absent where there is none
 * @param currency of the amounts; XXX is none in particular; absent where there is none
 * @param comeBack what coming once more costs; absent where there is none
 * @param approximate estimate of the share of what is probable that the answer leaves out; absent where it is exact
 * @param leftOut probability of all branches that are not followed; absent where there is none
 * @param bring adapters, plugs and meters; absent where there is none
 * @param parts most probable first
 * @param notPossible tests that the case says cannot be made; absent where there are none
 * @param warnings what to know about the readings
 * @param warningsSaid of what those sentences are made
 * @param tree where it begins; absent where there is none
 */
public record Plan(
    String json, String format, String circuit, List<String> cautions, Optional<AnsweredAsset> asset,
    Optional<String> complaint, Optional<String> currency, OptionalDouble comeBack, OptionalDouble approximate,
    OptionalDouble leftOut, Optional<BringList> bring, List<NeededPart> parts, List<ImpossibleTest> notPossible,
    List<String> warnings, List<Said> warningsSaid, Optional<PlanNode> tree) {
  static Plan read(String json) {
    Map<String, Object> of = Answered.document(json);
    return new Plan(
        json, Answered.text(of, "format"), Answered.text(of, "circuit"), Answered.texts(of, "cautions"),
        Answered.object(of, "asset", AnsweredAsset::read), Answered.textIfAny(of, "complaint"),
        Answered.textIfAny(of, "currency"), Answered.numberIfAny(of, "come_back"),
        Answered.numberIfAny(of, "approximate"), Answered.numberIfAny(of, "left_out"),
        Answered.object(of, "bring", BringList::read), Answered.each(of, "parts", NeededPart::read),
        Answered.each(of, "not_possible", ImpossibleTest::read), Answered.texts(of, "warnings"),
        Answered.each(of, "warnings_said", Said::read), Answered.object(of, "tree", PlanNode::read));
  }

  /**
   * What follows an outcome.
   *
   * @param outcome by name
   * @param probability of it, once the test is made
   * @param then null where the branch is not followed
   */
  public record PlanBranch(String outcome, double probability, Optional<PlanNode> then) {
    static PlanBranch read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new PlanBranch(
          Answered.text(of, "outcome"), Answered.number(of, "probability"),
          Answered.object(of, "then", PlanNode::read));
    }
  }

  /**
   * A test to make ({@code test} and what belongs to it), an end ({@code replace}, {@code verify}), or neither where
   * it was cut.
   *
   * @param reached probability of coming here
   * @param cut why it goes no further; absent where there is none
   * @param cautions to be shown before the test
   * @param cautionIds keys of the cautions
   * @param test id of the test; absent where there is none
   * @param title in words; absent where there is none
   * @param kind what kind of test; absent where there is none
   * @param energised needs power on or a load left up
   * @param again it was made before, and is looked at once more
   * @param contradicts because what was seen contradicts itself
   * @param minutes setup not yet done included; absent where there is none
   * @param testPressure such as "140 bar"; absent where there is none
   * @param bring adapters, plugs and meters
   * @param limits between which effects the outcomes lie; absent where they were not solved
   * @param branches one for each outcome
   * @param replace parts to exchange; absent where there is none
   * @param verify what proves it
   */
  public record PlanNode(
      double reached, Optional<String> cut, List<String> cautions, List<String> cautionIds,
      Optional<String> test, Optional<String> title, Optional<String> kind, boolean energised, boolean again,
      boolean contradicts, OptionalDouble minutes, Optional<String> testPressure, List<FittingToBring> bring,
      Optional<EffectLimits> limits, List<PlanBranch> branches, Optional<RepairSet> replace,
      List<Verify> verify) {
    static PlanNode read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new PlanNode(
          Answered.number(of, "reached"), Answered.textIfAny(of, "cut"), Answered.texts(of, "cautions"),
          Answered.texts(of, "caution_ids"), Answered.textIfAny(of, "test"), Answered.textIfAny(of, "title"),
          Answered.textIfAny(of, "kind"), Answered.flag(of, "energised"), Answered.flag(of, "again"),
          Answered.flag(of, "contradicts"), Answered.numberIfAny(of, "minutes"),
          Answered.textIfAny(of, "test_pressure"), Answered.each(of, "bring", FittingToBring::read),
          Answered.object(of, "limits", EffectLimits::read), Answered.each(of, "branches", PlanBranch::read),
          Answered.object(of, "replace", RepairSet::read), Answered.each(of, "verify", Verify::read));
    }
  }

  /**
   * A part that is probably needed.
   *
   * @param component id
   * @param probability that the plan ends with replacing it
   */
  public record NeededPart(String component, double probability) {
    static NeededPart read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new NeededPart(Answered.text(of, "component"), Answered.number(of, "probability"));
    }
  }
}
