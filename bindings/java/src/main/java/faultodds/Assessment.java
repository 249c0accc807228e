package faultodds;

import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.OptionalInt;

// Written by bindings/declare.py from capi/documents/answers.json; not to be edited.

/**
 * The whole of an assessment: "faultodds-assessment/1".
 *
 * @param json the document as the library wrote it
 * @param format names the format
 * @param detail that it is what a screen needs; absent where there is none
 * @param circuit id of the circuit
 * @param asset the machine; absent where there is none
 * @param causes of the complaint first, then of every other abnormal symptom; those seen before a repair are in the
 *     whole answer only; in the whole answer of the complaint first, then of every other abnormal symptom
 * @param method exact, or the approximation; absent where there is none
 * @param complaint the abnormal symptoms
 * @param faults the likeliest; in the whole answer every one, in the order of the circuit
 * @param tests the next ones, best first; the one that the advice names before all others; in the whole answer best
 *     first; the one that the advice names before all others
 * @param furtherTests what comes after them
 * @param testCount of all that can be made; absent where there is none
 * @param notPossible tests that the case says cannot be made; absent where there are none
 * @param notProposed the first 5; in the whole answer tests left out for want of people or time; absent where there
 *     are none
 * @param notProposedCount of all that are left out; absent where none are
 * @param advice absent without a complaint, or where the case asked for none
 * @param beforeService what is worth checking; absent where that is not asked
 * @param warnings what to know about the readings
 * @param warningsSaid of what those sentences are made
 * @param cautions for all work
 * @param furtherCautions of what caution_ids refer to, by id
 * @param logEvidence natural logarithm of the probability (density, for readings) of what was seen; absent where
 *     there is none
 * @param withheld holds that may not be made as the circuit stands
 * @param ambiguityGroups failure modes that no observation of this circuit can tell apart
 */
public record Assessment(
    String json, String format, Optional<String> detail, String circuit, Optional<AnsweredAsset> asset,
    List<Causes> causes, Optional<ApproximateMethod> method, List<String> complaint, List<Fault> faults,
    List<Test> tests, List<NamedTest> furtherTests, OptionalInt testCount, List<ImpossibleTest> notPossible,
    List<NotProposed> notProposed, OptionalInt notProposedCount, Optional<Advice> advice,
    Optional<BeforeService> beforeService, List<String> warnings, List<Said> warningsSaid,
    List<String> cautions, Map<String, String> furtherCautions, OptionalDouble logEvidence,
    List<Withheld> withheld, List<List<String>> ambiguityGroups) {
  static Assessment read(String json) {
    Map<String, Object> of = Answered.document(json);
    return new Assessment(
        json, Answered.text(of, "format"), Answered.textIfAny(of, "detail"), Answered.text(of, "circuit"),
        Answered.object(of, "asset", AnsweredAsset::read), Answered.each(of, "causes", Causes::read),
        Answered.object(of, "method", ApproximateMethod::read), Answered.texts(of, "complaint"),
        Answered.each(of, "faults", Fault::read), Answered.each(of, "tests", Test::read),
        Answered.each(of, "further_tests", NamedTest::read), Answered.countIfAny(of, "test_count"),
        Answered.each(of, "not_possible", ImpossibleTest::read),
        Answered.each(of, "not_proposed", NotProposed::read), Answered.countIfAny(of, "not_proposed_count"),
        Answered.object(of, "advice", Advice::read), Answered.object(of, "before_service", BeforeService::read),
        Answered.texts(of, "warnings"), Answered.each(of, "warnings_said", Said::read),
        Answered.texts(of, "cautions"), Answered.byName(of, "further_cautions", String.class),
        Answered.numberIfAny(of, "log_evidence"), Answered.each(of, "withheld", Withheld::read),
        Answered.groups(of, "ambiguity_groups"));
  }

  /**
   * A sentence as what it is made of: a message of the catalogues (capi/words) and its values.
   *
   * @param id by which it is called
   * @param values by the names that the message has for them
   */
  public record Said(String id, Map<String, Object> values) {
    static Said read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new Said(Answered.text(of, "id"), Answered.byName(of, "values", Object.class));
    }
  }

  /**
   * The machine, as the case says it.
   *
   * @param id by which it is called; absent where there is none
   * @param assetClass class of assets, for priors; absent where there is none
   * @param meterHours hours in service; absent where there is none
   * @param componentHours by component
   * @param soundAt by component: hours at which it was last seen sound
   */
  public record AnsweredAsset(
      Optional<String> id, Optional<String> assetClass, OptionalDouble meterHours,
      Map<String, Double> componentHours, Map<String, Double> soundAt) {
    static AnsweredAsset read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new AnsweredAsset(
          Answered.textIfAny(of, "id"), Answered.textIfAny(of, "class"),
          Answered.numberIfAny(of, "meter_hours"), Answered.byName(of, "component_hours", Double.class),
          Answered.byName(of, "sound_at", Double.class));
    }
  }

  /**
   * Components that together may be the cause.
   *
   * @param components ids
   * @param probability of it
   */
  public record Share(List<String> components, double probability) {
    static Share read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new Share(Answered.texts(of, "components"), Answered.number(of, "probability"));
    }
  }

  /**
   * Why an observation is as it is; the shares and the numbers beside them sum to 1.
   *
   * @param observation the symptom, or the test that stands for one
   * @param shares most probable first
   * @param byDesign what leaks although all is sound
   * @param elsewhere something that the circuit document does not describe
   * @param nothing nothing wrong: a false report
   * @param rest those that are not listed; absent where there is none
   */
  public record Causes(
      String observation, List<Share> shares, double byDesign, double elsewhere, double nothing,
      OptionalDouble rest) {
    static Causes read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new Causes(
          Answered.text(of, "observation"), Answered.each(of, "shares", Share::read),
          Answered.number(of, "by_design"), Answered.number(of, "elsewhere"), Answered.number(of, "nothing"),
          Answered.numberIfAny(of, "rest"));
    }
  }

  /**
   * One failure mode of one component.
   *
   * @param mode component.mode
   * @param component id
   * @param title in words
   * @param grades probabilities of sound, worn and failed
   * @param posteriorOdds odds of not sound; null where infinite
   * @param code of ISO 14224; absent where there is none
   * @param priorOdds odds of not sound before anything was seen; null where infinite
   * @param decibans weight of the evidence; null where infinite or undefined
   */
  public record Fault(
      String mode, String component, String title, Grades grades, OptionalDouble posteriorOdds,
      Optional<String> code, OptionalDouble priorOdds, OptionalDouble decibans) {
    static Fault read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new Fault(
          Answered.text(of, "mode"), Answered.text(of, "component"), Answered.text(of, "title"),
          Grades.read(of.get("grades")), Answered.numberIfAny(of, "posterior_odds"),
          Answered.textIfAny(of, "code"), Answered.numberIfAny(of, "prior_odds"),
          Answered.numberIfAny(of, "decibans"));
    }
  }

  /**
   * A step of a test.
   *
   * @param id by which it is called
   * @param title in words
   * @param minutes where other tests share it; absent where there is none
   * @param at the volumes that it is about
   * @param pastLeak those of them that are reached only past a leak
   */
  public record Step(String id, String title, OptionalDouble minutes, List<String> at, List<String> pastLeak) {
    static Step read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new Step(
          Answered.text(of, "id"), Answered.text(of, "title"), Answered.numberIfAny(of, "minutes"),
          Answered.texts(of, "at"), Answered.texts(of, "past_leak"));
    }
  }

  /**
   * What a test is made with.
   *
   * @param what adapter, plug, ...
   * @param port where it goes; absent where there is none
   * @param standard of the port; absent where there is none
   * @param size of the port; absent where there is none
   * @param ratedFor the least pressure, such as "140 bar"; absent where there is none
   */
  public record FittingToBring(
      String what, Optional<String> port, Optional<String> standard, Optional<String> size,
      Optional<String> ratedFor) {
    static FittingToBring read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new FittingToBring(
          Answered.text(of, "what"), Answered.textIfAny(of, "port"), Answered.textIfAny(of, "standard"),
          Answered.textIfAny(of, "size"), Answered.textIfAny(of, "rated_for"));
    }
  }

  /**
   * Which volume limits the pressure of a hold, and why.
   *
   * @param volume the volume that it concerns
   * @param by a rating, a relief, ...
   * @param part whose it is, where the volume does not say so; absent where there is none
   * @param stands such as "140 bar", before any share of it
   * @param factor pressure there per pressure at the port, where that is another; absent where there is none
   * @param suspect the failure mode past which it is reached; absent where there is none
   * @param why in a sentence
   */
  public record PressureLimit(
      String volume, String by, Optional<String> part, String stands, OptionalDouble factor,
      Optional<String> suspect, String why) {
    static PressureLimit read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new PressureLimit(
          Answered.text(of, "volume"), Answered.text(of, "by"), Answered.textIfAny(of, "part"),
          Answered.text(of, "stands"), Answered.numberIfAny(of, "factor"), Answered.textIfAny(of, "suspect"),
          Answered.text(of, "why"));
    }
  }

  /**
   * Why a hold has no figure.
   *
   * @param reason by name
   * @param volume the volume that it concerns
   * @param part whose it is, where the volume does not say so; absent where there is none
   * @param why in a sentence
   */
  public record NoPressure(String reason, String volume, Optional<String> part, String why) {
    static NoPressure read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new NoPressure(
          Answered.text(of, "reason"), Answered.text(of, "volume"), Answered.textIfAny(of, "part"),
          Answered.text(of, "why"));
    }
  }

  /**
   * Between which effects the outcomes lie, where that was solved.
   *
   * @param unit of the effects
   * @param first from here the second outcome
   * @param second from here the third
   * @param floor what the instrument cannot tell from nothing
   * @param resolution of the instrument
   * @param seconds of a hold: in which its pressure falls to half; absent where there is none
   */
  public record EffectLimits(
      String unit, double first, double second, double floor, double resolution, OptionalDouble seconds) {
    static EffectLimits read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new EffectLimits(
          Answered.text(of, "unit"), Answered.number(of, "first"), Answered.number(of, "second"),
          Answered.number(of, "floor"), Answered.number(of, "resolution"), Answered.numberIfAny(of, "seconds"));
    }
  }

  /**
   * A test by its name.
   *
   * @param observation under which its result is entered
   * @param title in words
   * @param kind what kind of test
   * @param minutes setup not yet done included
   * @param energised needs power on or a load left up
   */
  public record NamedTest(String observation, String title, String kind, double minutes, boolean energised) {
    static NamedTest read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new NamedTest(
          Answered.text(of, "observation"), Answered.text(of, "title"), Answered.text(of, "kind"),
          Answered.number(of, "minutes"), Answered.flag(of, "energised"));
    }
  }

  /**
   * A test that can be made next; its cautions stand before it.
   *
   * @param observation under which its result is entered
   * @param title in words
   * @param kind what kind of test
   * @param minutes setup not yet done included
   * @param energised needs power on or a load left up
   * @param again it is made once more: what was seen of it is doubtful
   * @param people where one is not enough; absent where there is none
   * @param probability of each outcome, the normal one first
   * @param causeBits about the cause of the complaint
   * @param setupIds all steps that it shares with others, done or not
   * @param cautionIds besides those for all work; texts in further_cautions
   * @param steps everything left to do before the test, in order
   * @param afterwards what ends it, in order
   * @param testPressure such as "140 bar"; absent or null where it comes from the maker's documents
   * @param pressureLimit what limits the test pressure; absent where there is none
   * @param noPressure why the test pressure is to be had from the maker's documents; absent where there is none
   * @param limits between which effects the outcomes lie; absent where they were not solved
   * @param bring adapters, plugs and meters
   * @param because which suspects it tells apart
   * @param becauseSaid of what that sentence is made
   * @param suspects the failure modes that it looks at
   * @param informationBits about all failure modes; absent where there is none
   * @param bitsPerMinute what the order within a safety class rests on; absent where there is none
   * @param setup of steps, what other tests share
   * @param cautions to be shown before it
   */
  public record Test(
      String observation, String title, String kind, double minutes, boolean energised, boolean again,
      OptionalInt people, Map<String, Double> probability, double causeBits, List<String> setupIds,
      List<String> cautionIds, List<Step> steps, List<Step> afterwards, Optional<String> testPressure,
      Optional<PressureLimit> pressureLimit, Optional<NoPressure> noPressure, Optional<EffectLimits> limits,
      List<FittingToBring> bring, String because, List<Said> becauseSaid, List<String> suspects,
      OptionalDouble informationBits, OptionalDouble bitsPerMinute, List<Step> setup, List<String> cautions) {
    static Test read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new Test(
          Answered.text(of, "observation"), Answered.text(of, "title"), Answered.text(of, "kind"),
          Answered.number(of, "minutes"), Answered.flag(of, "energised"), Answered.flag(of, "again"),
          Answered.countIfAny(of, "people"), Answered.byName(of, "probability", Double.class),
          Answered.number(of, "cause_bits"), Answered.texts(of, "setup_ids"), Answered.texts(of, "caution_ids"),
          Answered.each(of, "steps", Step::read), Answered.each(of, "afterwards", Step::read),
          Answered.textIfAny(of, "test_pressure"), Answered.object(of, "pressure_limit", PressureLimit::read),
          Answered.object(of, "no_pressure", NoPressure::read),
          Answered.object(of, "limits", EffectLimits::read), Answered.each(of, "bring", FittingToBring::read),
          Answered.text(of, "because"), Answered.each(of, "because_said", Said::read),
          Answered.texts(of, "suspects"), Answered.numberIfAny(of, "information_bits"),
          Answered.numberIfAny(of, "bits_per_minute"), Answered.each(of, "setup", Step::read),
          Answered.texts(of, "cautions"));
    }
  }

  /**
   * A hold that is not proposed.
   *
   * @param observation id
   * @param reason by name
   * @param volume the volume that it concerns
   * @param part whose it is, where the volume does not say so; absent where there is none
   * @param why in a sentence
   */
  public record Withheld(String observation, String reason, String volume, Optional<String> part, String why) {
    static Withheld read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new Withheld(
          Answered.text(of, "observation"), Answered.text(of, "reason"), Answered.text(of, "volume"),
          Answered.textIfAny(of, "part"), Answered.text(of, "why"));
    }
  }

  /**
   * A test that the case says cannot be made.
   *
   * @param observation id
   * @param title in words
   * @param reason as the case says it
   */
  public record ImpossibleTest(String observation, String title, String reason) {
    static ImpossibleTest read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new ImpossibleTest(
          Answered.text(of, "observation"), Answered.text(of, "title"), Answered.text(of, "reason"));
    }
  }

  /**
   * A test left out because of the work there is.
   *
   * @param observation id
   * @param reason by name
   * @param why in a sentence
   * @param whySaid of what that sentence is made
   */
  public record NotProposed(String observation, String reason, String why, List<Said> whySaid) {
    static NotProposed read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new NotProposed(
          Answered.text(of, "observation"), Answered.text(of, "reason"), Answered.text(of, "why"),
          Answered.each(of, "why_said", Said::read));
    }
  }

  /**
   * Components to exchange and check, in that order.
   *
   * @param components ids
   * @param cost of exchanging all of them
   * @param residualRisk that the complaint stays
   * @param expectedCost with what follows then
   */
  public record RepairSet(List<String> components, double cost, double residualRisk, double expectedCost) {
    static RepairSet read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new RepairSet(
          Answered.texts(of, "components"), Answered.number(of, "cost"), Answered.number(of, "residual_risk"),
          Answered.number(of, "expected_cost"));
    }
  }

  /**
   * What was seen contradicts itself.
   *
   * @param observation the most doubtful of it
   * @param wrong that what was seen there is wrong
   * @param anyWrong that some of what was seen is
   */
  public record Contradiction(String observation, double wrong, double anyWrong) {
    static Contradiction read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new Contradiction(
          Answered.text(of, "observation"), Answered.number(of, "wrong"), Answered.number(of, "any_wrong"));
    }
  }

  /**
   * The technician's own next test.
   *
   * @param test id of the test
   * @param insteadOf what would be advised; null: to stop
   * @param extraCost expected, above that
   */
  public record OwnOrder(String test, Optional<String> insteadOf, double extraCost) {
    static OwnOrder read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new OwnOrder(
          Answered.text(of, "test"), Answered.textIfAny(of, "instead_of"), Answered.number(of, "extra_cost"));
    }
  }

  /**
   * A part that cannot be in by then.
   *
   * @param component id
   * @param minutes it takes
   * @param leadDays until it is here
   */
  public record LatePart(String component, double minutes, double leadDays) {
    static LatePart read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new LatePart(
          Answered.text(of, "component"), Answered.number(of, "minutes"), Answered.number(of, "lead_days"));
    }
  }

  /**
   * What the time in which the machine must run allows.
   *
   * @param readyWithin minutes
   * @param minutes that the repair takes
   * @param tooLong too long
   * @param later the best repair without the limit, where it is another; absent where there is none
   */
  public record InTime(double readyWithin, double minutes, List<LatePart> tooLong, Optional<RepairSet> later) {
    static InTime read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new InTime(
          Answered.number(of, "ready_within"), Answered.number(of, "minutes"),
          Answered.each(of, "too_long", LatePart::read), Answered.object(of, "later", RepairSet::read));
    }
  }

  /**
   * Adapters and plugs of one kind.
   *
   * @param what adapter, plug, ...
   * @param standard of the port
   * @param size of the port
   * @param count how many
   * @param ports where they go
   */
  public record BringItem(String what, String standard, String size, int count, List<String> ports) {
    static BringItem read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new BringItem(
          Answered.text(of, "what"), Answered.text(of, "standard"), Answered.text(of, "size"),
          Answered.count(of, "count"), Answered.texts(of, "ports"));
    }
  }

  /**
   * What to bring for all that is named.
   *
   * @param items by kind
   * @param gaugeFor the highest pressure, such as "180 bar"; absent where there is none
   */
  public record BringList(List<BringItem> items, Optional<String> gaugeFor) {
    static BringList read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new BringList(Answered.each(of, "items", BringItem::read), Answered.textIfAny(of, "gauge_for"));
    }
  }

  /**
   * A test that proves the repair; its cautions stand before it.
   *
   * @param observation under which its result is entered; in the whole answer id
   * @param title in words
   * @param kind what kind of test; absent where there is none
   * @param minutes setup not yet done included; in the whole answer it takes
   * @param energised needs power on or a load left up
   * @param isComplaint whether it is the complaint itself
   * @param riskIfNormal that the complaint stays, then
   * @param cautionIds keys of the cautions
   * @param normal probability of the normal outcome; absent where there is none
   * @param cautions to be shown before it
   */
  public record Verify(
      String observation, String title, Optional<String> kind, double minutes, boolean energised,
      boolean isComplaint, double riskIfNormal, List<String> cautionIds, OptionalDouble normal,
      List<String> cautions) {
    static Verify read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new Verify(
          Answered.text(of, "observation"), Answered.text(of, "title"), Answered.textIfAny(of, "kind"),
          Answered.number(of, "minutes"), Answered.flag(of, "energised"), Answered.flag(of, "is_complaint"),
          Answered.number(of, "risk_if_normal"), Answered.texts(of, "caution_ids"),
          Answered.numberIfAny(of, "normal"), Answered.texts(of, "cautions"));
    }
  }

  /**
   * What else leaks before the order goes out.
   *
   * @param probability that the complaint stays once what is advised is replaced
   * @param target of that probability
   * @param reached whether the checks come to the target
   * @param checks in order
   */
  public record SecondFault(double probability, double target, boolean reached, List<SecondFaultCheck> checks) {
    static SecondFault read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new SecondFault(
          Answered.number(of, "probability"), Answered.number(of, "target"), Answered.flag(of, "reached"),
          Answered.each(of, "checks", SecondFaultCheck::read));
    }
  }

  /**
   * Whether to stop testing, the next test, and what to repair.
   *
   * @param stop no test is worth its cost
   * @param reason why, in a sentence
   * @param reasonSaid of what that sentence is made
   * @param test the test to make; absent where there is none
   * @param error about how far any probability may be off; absent where exact
   * @param elsewhere that the cause is none that the circuit describes, where that is likeliest: no part is ordered;
   *     absent where there is none
   * @param renewedShows all that is worth ordering is new already
   * @param unfounded that nothing is wrong, where that is likelier than not: no part is ordered; absent where there
   *     is none
   * @param contradiction what was seen contradicts itself; nothing is ordered before it was looked at again; absent
   *     where there is none
   * @param ownOrder the technician's own next test, where the case says an order; absent where there is none
   * @param inTime what the time in which the machine must run allows, where the case says it; absent where there is
   *     none
   * @param currency of the amounts; XXX is none in particular
   * @param comeBack what coming once more costs
   * @param repair what to exchange
   * @param testCost of the test to make; absent where there is none
   * @param testSaving expected; absent where there is none
   * @param secondFault what else leaks before the order goes out
   * @param bring adapters, plugs and meters
   * @param verify what proves the repair
   * @param alternatives other repairs
   * @param tests those that save anything
   * @param twoTests two in a row that pay where none does alone; absent where there is none
   * @param perfectInformation no tests whatever can save more; absent where there is none
   * @param replaced parts taken out in the course of the case
   * @param evidence what weighed for and against; absent where there is none
   * @param wouldChange what would change the repair; absent where there is none
   * @param visit tests that fit in the visit of the case; absent where there is none
   */
  public record Advice(
      boolean stop, String reason, List<Said> reasonSaid, Optional<String> test, OptionalDouble error,
      OptionalDouble elsewhere, boolean renewedShows, OptionalDouble unfounded,
      Optional<Contradiction> contradiction, Optional<OwnOrder> ownOrder, Optional<InTime> inTime,
      String currency, double comeBack, RepairSet repair, OptionalDouble testCost, OptionalDouble testSaving,
      SecondFault secondFault, BringList bring, List<Verify> verify, List<RepairSet> alternatives,
      List<TestValue> tests, Optional<TwoTests> twoTests, OptionalDouble perfectInformation,
      List<ReplacedPart> replaced, Optional<EvidenceTrail> evidence, Optional<WouldChange> wouldChange,
      Optional<Visit> visit) {
    static Advice read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new Advice(
          Answered.flag(of, "stop"), Answered.text(of, "reason"), Answered.each(of, "reason_said", Said::read),
          Answered.textIfAny(of, "test"), Answered.numberIfAny(of, "error"),
          Answered.numberIfAny(of, "elsewhere"), Answered.flag(of, "renewed_shows"),
          Answered.numberIfAny(of, "unfounded"), Answered.object(of, "contradiction", Contradiction::read),
          Answered.object(of, "own_order", OwnOrder::read), Answered.object(of, "in_time", InTime::read),
          Answered.text(of, "currency"), Answered.number(of, "come_back"), RepairSet.read(of.get("repair")),
          Answered.numberIfAny(of, "test_cost"), Answered.numberIfAny(of, "test_saving"),
          SecondFault.read(of.get("second_fault")), BringList.read(of.get("bring")),
          Answered.each(of, "verify", Verify::read), Answered.each(of, "alternatives", RepairSet::read),
          Answered.each(of, "tests", TestValue::read), Answered.object(of, "two_tests", TwoTests::read),
          Answered.numberIfAny(of, "perfect_information"), Answered.each(of, "replaced", ReplacedPart::read),
          Answered.object(of, "evidence", EvidenceTrail::read),
          Answered.object(of, "would_change", WouldChange::read), Answered.object(of, "visit", Visit::read));
    }
  }

  /**
   * What a test saves.
   *
   * @param observation id
   * @param minutes it takes
   * @param cost of it
   * @param expectedSaving in money
   */
  public record TestValue(String observation, double minutes, double cost, double expectedSaving) {
    static TestValue read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new TestValue(
          Answered.text(of, "observation"), Answered.number(of, "minutes"), Answered.number(of, "cost"),
          Answered.number(of, "expected_saving"));
    }
  }

  /**
   * Two in a row that pay where none does alone.
   *
   * @param first id of the first
   * @param then by outcome of the first
   * @param cost of it
   * @param expectedSaving at least
   */
  public record TwoTests(String first, List<String> then, double cost, double expectedSaving) {
    static TwoTests read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new TwoTests(
          Answered.text(of, "first"), Answered.texts(of, "then"), Answered.number(of, "cost"),
          Answered.number(of, "expected_saving"));
    }
  }

  /**
   * A test that does not look at what is replaced.
   *
   * @param observation id
   * @param minutes it takes
   * @param probability that the complaint stays once this and all before it were normal
   */
  public record SecondFaultCheck(String observation, double minutes, double probability) {
    static SecondFaultCheck read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new SecondFaultCheck(
          Answered.text(of, "observation"), Answered.number(of, "minutes"), Answered.number(of, "probability"));
    }
  }

  /**
   * A part taken out in the course of the case.
   *
   * @param component id
   * @param faulty that it was, in hindsight
   */
  public record ReplacedPart(String component, double faulty) {
    static ReplacedPart read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new ReplacedPart(Answered.text(of, "component"), Answered.number(of, "faulty"));
    }
  }

  /**
   * What an observation weighs for a suspect.
   *
   * @param observation id
   * @param decibans null where infinite
   */
  public record Weight(String observation, OptionalDouble decibans) {
    static Weight read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new Weight(Answered.text(of, "observation"), Answered.numberIfAny(of, "decibans"));
    }
  }

  /**
   * How the weight of a suspect came about; the numbers add up.
   *
   * @param mode component.mode
   * @param priorDecibans null where infinite
   * @param decibans null where infinite
   * @param weights in the order made
   */
  public record SuspectTrail(
      String mode, OptionalDouble priorDecibans, OptionalDouble decibans, List<Weight> weights) {
    static SuspectTrail read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new SuspectTrail(
          Answered.text(of, "mode"), Answered.numberIfAny(of, "prior_decibans"),
          Answered.numberIfAny(of, "decibans"), Answered.each(of, "weights", Weight::read));
    }
  }

  /**
   * What is abnormal though no modelled fault shows there.
   *
   * @param observation id
   * @param probability of it
   */
  public record Unexplained(String observation, double probability) {
    static Unexplained read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new Unexplained(Answered.text(of, "observation"), Answered.number(of, "probability"));
    }
  }

  /**
   * What weighed for and against.
   *
   * @param sentence in words
   * @param sentenceSaid of what that is made
   * @param faults the leading suspects
   * @param conflictBits above 0 the observations contradict each other
   * @param mostAtOdds the observation that agrees least; absent where there is none
   * @param unexplained what no modelled fault explains
   */
  public record EvidenceTrail(
      String sentence, List<Said> sentenceSaid, List<SuspectTrail> faults, double conflictBits,
      Optional<String> mostAtOdds, List<Unexplained> unexplained) {
    static EvidenceTrail read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new EvidenceTrail(
          Answered.text(of, "sentence"), Answered.each(of, "sentence_said", Said::read),
          Answered.each(of, "faults", SuspectTrail::read), Answered.number(of, "conflict_bits"),
          Answered.textIfAny(of, "most_at_odds"), Answered.each(of, "unexplained", Unexplained::read));
    }
  }

  /**
   * What would change the repair.
   *
   * @param observation id
   * @param factor were what was seen that many times as probable with nothing leaking there
   * @param components would be the repair
   */
  public record Turn(String observation, double factor, List<String> components) {
    static Turn read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new Turn(
          Answered.text(of, "observation"), Answered.number(of, "factor"), Answered.texts(of, "components"));
    }
  }

  /**
   * The price of coming again from which the repair is another.
   *
   * @param comeBack what coming once more costs
   * @param components ids
   */
  public record ComeBackTurn(double comeBack, List<String> components) {
    static ComeBackTurn read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new ComeBackTurn(Answered.number(of, "come_back"), Answered.texts(of, "components"));
    }
  }

  /**
   * What would change the repair.
   *
   * @param observations each by itself
   * @param comeBackBelow price below which the repair is another; absent where there is none
   * @param comeBackAbove price above which the repair is another; absent where there is none
   */
  public record WouldChange(
      List<Turn> observations, Optional<ComeBackTurn> comeBackBelow, Optional<ComeBackTurn> comeBackAbove) {
    static WouldChange read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new WouldChange(
          Answered.each(of, "observations", Turn::read),
          Answered.object(of, "come_back_below", ComeBackTurn::read),
          Answered.object(of, "come_back_above", ComeBackTurn::read));
    }
  }

  /**
   * A test of a visit.
   *
   * @param observation id
   * @param minutes it takes
   * @param bits of information
   */
  public record VisitTest(String observation, double minutes, double bits) {
    static VisitTest read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new VisitTest(
          Answered.text(of, "observation"), Answered.number(of, "minutes"), Answered.number(of, "bits"));
    }
  }

  /**
   * The tests to make within the minutes there are.
   *
   * @param available minutes
   * @param minutes it takes
   * @param informationBits that they tell
   * @param guarantee the share of the most informative choice that they surely reach
   * @param tests tests
   */
  public record Visit(
      double available, double minutes, double informationBits, double guarantee, List<VisitTest> tests) {
    static Visit read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new Visit(
          Answered.number(of, "available"), Answered.number(of, "minutes"),
          Answered.number(of, "information_bits"), Answered.number(of, "guarantee"),
          Answered.each(of, "tests", VisitTest::read));
    }
  }

  /**
   * A part that a test before service may find.
   *
   * @param component id
   * @param probability that it would fail in service and the outcome has it replaced
   */
  public record ServiceFind(String component, double probability) {
    static ServiceFind read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new ServiceFind(Answered.text(of, "component"), Answered.number(of, "probability"));
    }
  }

  /**
   * A test worth making before service.
   *
   * @param observation id
   * @param minutes it takes
   * @param cost of it
   * @param expectedSaving in money
   * @param net expected saving less cost
   * @param finds finds
   */
  public record ServiceTest(
      String observation, double minutes, double cost, double expectedSaving, double net,
      List<ServiceFind> finds) {
    static ServiceTest read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new ServiceTest(
          Answered.text(of, "observation"), Answered.number(of, "minutes"), Answered.number(of, "cost"),
          Answered.number(of, "expected_saving"), Answered.number(of, "net"),
          Answered.each(of, "finds", ServiceFind::read));
    }
  }

  /**
   * A part worth replacing as it is.
   *
   * @param component id
   * @param fails probability that it fails
   * @param saving in money
   */
  public record ServicePart(String component, double fails, double saving) {
    static ServicePart read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new ServicePart(
          Answered.text(of, "component"), Answered.number(of, "fails"), Answered.number(of, "saving"));
    }
  }

  /**
   * What is worth checking on a machine that nobody complains of.
   *
   * @param currency of the amounts; XXX is none in particular
   * @param tests most net saving a minute first
   * @param replace parts to exchange
   * @param notReckoned tests too large to be reckoned
   */
  public record BeforeService(
      String currency, List<ServiceTest> tests, List<ServicePart> replace, List<String> notReckoned) {
    static BeforeService read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new BeforeService(
          Answered.text(of, "currency"), Answered.each(of, "tests", ServiceTest::read),
          Answered.each(of, "replace", ServicePart::read), Answered.texts(of, "not_reckoned"));
    }
  }

  /**
   * An answer that is not exact.
   *
   * @param name of the method
   * @param errorBound on every probability in it
   */
  public record ApproximateMethod(String name, double errorBound) {
    static ApproximateMethod read(Object value) {
      Map<String, Object> of = Json.object(value);
      return new ApproximateMethod(Answered.text(of, "name"), Answered.number(of, "error_bound"));
    }
  }

  /**
   * Probabilities of the grades of a failure mode.
   *
   * @param sound of grade 0
   * @param worn of grade 1
   * @param failed of grade 2
   */
  public record Grades(double sound, double worn, double failed) {
    static Grades read(Object value) {
      List<Object> of = Json.list(value);
      return new Grades((Double) of.get(0), (Double) of.get(1), (Double) of.get(2));
    }
  }
}
