package faultodds;

import java.util.ArrayList;
import java.util.Collections;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.function.Function;

/**
 * An assessment document, {@code "faultodds-assessment/1"}. What most screens show is typed; {@link #json()}
 * is the whole of it. A case is answered with what a screen needs: the likeliest causes, the next tests, others by
 * name; where it says {@code "detail": "full"}, with everything. What only the whole answer has is NaN, empty or
 * absent in the other.
 */
public final class Assessment {
  private final String json;
  private final List<Causes> causes;
  private final double logEvidence;
  private final List<String> complaint;
  private final List<Fault> faults;
  private final List<Test> tests;
  private final List<FurtherTest> furtherTests;
  private final List<Withheld> withheld;
  private final List<NotPossible> notPossible;
  private final Optional<Advice> advice;
  private final List<String> warnings;
  private final List<String> cautions;

  Assessment(String json) {
    Map<String, Object> document = Json.object(Json.parse(json));
    this.json = json;
    causes = each(document.get("causes"), Assessment::causes);
    logEvidence = numberIfAny(document, "log_evidence");
    complaint = texts(document, "complaint");
    faults = each(document.get("faults"), Assessment::fault);
    warnings = texts(document, "warnings");
    cautions = texts(document, "cautions");
    Cautions all = new Cautions(cautions, document);
    tests = each(document.get("tests"), value -> test(value, all));
    furtherTests = eachIfAny(document, "further_tests", Assessment::furtherTest);
    withheld = eachIfAny(document, "withheld", Assessment::withheld);
    notPossible = document.containsKey("not_possible")
        ? each(document.get("not_possible"), Assessment::notPossible) : List.of();
    advice = Optional.ofNullable(document.get("advice")).map(value -> advice(Json.object(value)));
  }

  /**
   * The document as the library wrote it.
   *
   * @return JSON text
   */
  public String json() {
    return json;
  }

  /**
   * What is probably behind each abnormal symptom.
   *
   * @return the causes of each, the complaint first; none where nothing abnormal was seen
   */
  public List<Causes> causes() {
    return causes;
  }

  /**
   * Natural logarithm of the probability (density, for readings) of what was seen.
   *
   * @return the logarithm; NaN but in the whole answer
   */
  public double logEvidence() {
    return logEvidence;
  }

  /**
   * The abnormal symptoms.
   *
   * @return ids of observations
   */
  public List<String> complaint() {
    return complaint;
  }

  /**
   * The likeliest failure modes; in the whole answer every one, in the order of the circuit.
   *
   * @return the suspects
   */
  public List<Fault> faults() {
    return faults;
  }

  /**
   * The tests that can be made next, best first; the one that the advice names comes before all others.
   *
   * @return the first of the ranking; in the whole answer all of it
   */
  public List<Test> tests() {
    return tests;
  }

  /**
   * What comes after {@link #tests()}, by name.
   *
   * @return the next of the ranking; none in the whole answer
   */
  public List<FurtherTest> furtherTests() {
    return furtherTests;
  }

  /**
   * The holds that are not among the tests because they may not be made as the circuit stands.
   *
   * @return each with its reason; none but in the whole answer
   */
  public List<Withheld> withheld() {
    return withheld;
  }

  /**
   * The tests that the case says cannot be made on this machine.
   *
   * @return each with the reason given
   */
  public List<NotPossible> notPossible() {
    return notPossible;
  }

  /**
   * Whether to stop and what to repair; absent without a complaint, or where the case asked for none.
   *
   * @return the advice
   */
  public Optional<Advice> advice() {
    return advice;
  }

  /**
   * What to know about the readings.
   *
   * @return sentences
   */
  public List<String> warnings() {
    return warnings;
  }

  /**
   * The cautions for all work. Those of a test are in {@link Test#cautions()}.
   *
   * @return sentences
   */
  public List<String> cautions() {
    return cautions;
  }

  /**
   * One failure mode of one component.
   *
   * @param mode id, {@code component.mode}
   * @param component id of the component
   * @param code failure-mode code of ISO 14224; empty but in the whole answer
   * @param title what is wrong
   * @param sound probability of grade 0
   * @param worn probability of grade 1
   * @param failed probability of grade 2
   * @param priorOdds of not sound, before anything was seen; absent where infinite and but in the whole answer
   * @param posteriorOdds of not sound; absent where infinite
   * @param decibans weight of the evidence; absent where infinite or undefined and but in the whole answer
   */
  public record Fault(
      String mode, String component, String code, String title, double sound, double worn, double failed,
      OptionalDouble priorOdds, OptionalDouble posteriorOdds, OptionalDouble decibans) {}

  /**
   * One test of the ranking. Show its cautions before it.
   *
   * @param observation id, under which its result is entered
   * @param title what to do
   * @param kind {@code static}, {@code drift}, {@code delivery}, {@code flow}, {@code symptom} or {@code test}
   * @param probability of each outcome, the normal one first
   * @param informationBits about all failure modes; NaN but in the whole answer
   * @param causeBits about the cause of the complaint
   * @param minutes setup not yet done included
   * @param bitsPerMinute what the order within a safety class rests on; NaN but in the whole answer
   * @param setup steps not yet done that other tests share; none but in the whole answer
   * @param steps everything left to do before the test, in order
   * @param afterwards what ends the test, in order
   * @param testPressure such as {@code "140 bar"}; absent where it comes from the maker's documents
   * @param pressureLimit what limits the test pressure; absent where nothing but the question does
   * @param noPressure why the test pressure is to be had from the maker's documents; absent where it is given
   * @param bring adapters and plugs
   * @param energised needs power on or a load left up
   * @param cautions all that are to be shown before the test, those for all work first
   * @param because which suspects it tells apart
   * @param suspects the failure modes that it looks at
   */
  public record Test(
      String observation, String title, String kind, Map<String, Double> probability, double informationBits,
      double causeBits, double minutes, double bitsPerMinute, List<Step> setup, List<Step> steps,
      List<Step> afterwards, Optional<String> testPressure, Optional<PressureLimit> pressureLimit,
      Optional<NoPressure> noPressure, List<Fitting> bring, boolean energised, List<String> cautions,
      String because, List<String> suspects) {}

  /**
   * A test by name only.
   *
   * @param observation id
   * @param title what to do
   * @param kind as of {@link Test}
   * @param minutes setup not yet done included
   * @param energised needs power on or a load left up
   */
  public record FurtherTest(String observation, String title, String kind, double minutes, boolean energised) {}

  /**
   * What limits the pressure of a hold.
   *
   * @param volume the volume that stands least
   * @param by what of it: a rating, a relief, ...
   * @param part component, port, line or function whose limit it is; absent where the volume says it
   * @param stands such as {@code "140 bar"}, before any share of it
   * @param factor pressure there per pressure at the port tested, where that is another
   * @param suspect the failure mode past which it is reached, if any
   * @param why in a sentence
   */
  public record PressureLimit(
      String volume, String by, Optional<String> part, String stands, OptionalDouble factor, Optional<String> suspect,
      String why) {}

  /**
   * Why no pressure can be given for a hold.
   *
   * @param reason by name
   * @param volume the volume of which something is not known
   * @param part the component of which it is not known, if it is another than the volume's
   * @param why in a sentence
   */
  public record NoPressure(String reason, String volume, Optional<String> part, String why) {}

  /**
   * A hold that is not proposed.
   *
   * @param observation id
   * @param reason by name
   * @param volume the volume that it concerns
   * @param part the component that it concerns, if it is another than the volume's
   * @param why in a sentence
   */
  public record Withheld(String observation, String reason, String volume, Optional<String> part, String why) {}

  /**
   * A test that cannot be made on this machine.
   *
   * @param observation id
   * @param title what it would be
   * @param reason as the case says it
   */
  public record NotPossible(String observation, String title, String reason) {}

  /**
   * A step of a test.
   *
   * @param id for {@code setup_done}
   * @param title what to do
   * @param minutes it takes; 0 where it is of this test alone
   * @param at the volumes it is about
   * @param pastLeak those that are reached only past a leak
   */
  public record Step(String id, String title, double minutes, List<String> at, List<String> pastLeak) {}

  /**
   * Something to bring.
   *
   * @param what adapter, plug, ...
   * @param port where it goes
   * @param standard of the port; absent where the circuit does not say
   * @param size of the port; absent where the circuit does not say
   * @param ratedFor the least pressure it must be rated for; absent where unknown
   */
  public record Fitting(
      String what, Optional<String> port, Optional<String> standard, Optional<String> size,
      Optional<String> ratedFor) {}

  /**
   * Whether to stop testing, and what to repair. The rest of the advice is in {@link #json()}.
   *
   * @param stop whether no test is worth its cost
   * @param reason why, in a sentence
   * @param test the test to make; absent if none is
   * @param currency of the amounts; {@code XXX} is none in particular
   * @param repair the components to exchange and check, in that order
   * @param cost of exchanging all of them
   * @param residualRisk probability that the cause of the complaint is elsewhere
   * @param expectedCost cost, and the risk times that of coming back
   * @param contradiction the most doubtful finding, where what was seen contradicts itself: nothing is ordered
   *     before it was looked at again
   * @param ownOrder the technician's own next test, where the case says an order
   * @param later the best repair without the time limit of the case, where that is another
   */
  public record Advice(
      boolean stop, String reason, Optional<String> test, String currency, List<String> repair, double cost,
      double residualRisk, double expectedCost, Optional<Contradiction> contradiction,
      Optional<OwnOrder> ownOrder, Optional<List<String>> later) {}

  /**
   * The technician's own next test.
   *
   * @param test id
   * @param insteadOf what would be advised; absent: to stop
   * @param extraCost expected, above that
   */
  public record OwnOrder(String test, Optional<String> insteadOf, double extraCost) {}

  /**
   * What was seen contradicts itself.
   *
   * @param observation the most doubtful of it
   * @param wrong probability that what was seen there is wrong
   * @param anyWrong probability that some of what was seen is
   */
  public record Contradiction(String observation, double wrong, double anyWrong) {}

  private static Fault fault(Object value) {
    Map<String, Object> fault = Json.object(value);
    List<Object> grades = Json.list(fault.get("grades"));
    return new Fault(
        text(fault, "mode"), text(fault, "component"), optional(fault, "code").orElse(""), text(fault, "title"),
        (Double) grades.get(0), (Double) grades.get(1), (Double) grades.get(2), maybe(fault, "prior_odds"),
        maybe(fault, "posterior_odds"), maybe(fault, "decibans"));
  }

  private static Causes causes(Object value) {
    Map<String, Object> of = Json.object(value);
    return new Causes(
        text(of, "observation"), each(of.get("shares"), Assessment::share), number(of, "by_design"),
        number(of, "elsewhere"), number(of, "nothing"));
  }

  private static Causes.Share share(Object value) {
    Map<String, Object> share = Json.object(value);
    return new Causes.Share(texts(share, "components"), number(share, "probability"));
  }

  /** The texts that tests refer to by id, where they do not bring their own. */
  private record Cautions(List<String> general, Map<String, Object> document) {
    List<String> of(Map<String, Object> test) {
      if (test.containsKey("cautions")) return texts(test, "cautions");
      List<String> all = new ArrayList<>(general);
      Map<String, Object> further = Json.object(document.get("further_cautions"));
      for (String id : texts(test, "caution_ids")) all.add((String) further.get(id));
      return List.copyOf(all);
    }
  }

  private static FurtherTest furtherTest(Object value) {
    Map<String, Object> test = Json.object(value);
    return new FurtherTest(
        text(test, "observation"), text(test, "title"), text(test, "kind"), number(test, "minutes"),
        (Boolean) test.get("energised"));
  }

  private static Test test(Object value, Cautions all) {
    Map<String, Object> test = Json.object(value);
    Map<String, Double> probability = new LinkedHashMap<>();
    Json.object(test.get("probability")).forEach((outcome, p) -> probability.put(outcome, (Double) p));
    return new Test(
        text(test, "observation"), text(test, "title"), text(test, "kind"),
        Collections.unmodifiableMap(probability), numberIfAny(test, "information_bits"),
        number(test, "cause_bits"), number(test, "minutes"), numberIfAny(test, "bits_per_minute"),
        eachIfAny(test, "setup", Assessment::step), each(test.get("steps"), Assessment::step),
        each(test.get("afterwards"), Assessment::step), optional(test, "test_pressure"),
        Optional.ofNullable(test.get("pressure_limit")).map(Assessment::pressureLimit),
        Optional.ofNullable(test.get("no_pressure")).map(Assessment::noPressure),
        each(test.get("bring"), Assessment::fitting), (Boolean) test.get("energised"), all.of(test),
        text(test, "because"), texts(test, "suspects"));
  }

  private static PressureLimit pressureLimit(Object value) {
    Map<String, Object> limit = Json.object(value);
    return new PressureLimit(
        text(limit, "volume"), text(limit, "by"), optional(limit, "part"), text(limit, "stands"), maybe(limit, "factor"),
        optional(limit, "suspect"), text(limit, "why"));
  }

  private static NoPressure noPressure(Object value) {
    Map<String, Object> why = Json.object(value);
    return new NoPressure(text(why, "reason"), text(why, "volume"), optional(why, "part"), text(why, "why"));
  }

  private static Withheld withheld(Object value) {
    Map<String, Object> hold = Json.object(value);
    return new Withheld(
        text(hold, "observation"), text(hold, "reason"), text(hold, "volume"), optional(hold, "part"),
        text(hold, "why"));
  }

  static NotPossible notPossible(Object value) {
    Map<String, Object> one = Json.object(value);
    return new NotPossible(text(one, "observation"), text(one, "title"), text(one, "reason"));
  }

  private static Step step(Object value) {
    Map<String, Object> step = Json.object(value);
    return new Step(
        text(step, "id"), text(step, "title"), step.containsKey("minutes") ? number(step, "minutes") : 0,
        step.containsKey("at") ? texts(step, "at") : List.of(),
        step.containsKey("past_leak") ? texts(step, "past_leak") : List.of());
  }

  static Fitting fitting(Object value) {
    Map<String, Object> fitting = Json.object(value);
    return new Fitting(
        text(fitting, "what"), optional(fitting, "port"), optional(fitting, "standard"), optional(fitting, "size"),
        optional(fitting, "rated_for"));
  }

  private static Advice advice(Map<String, Object> advice) {
    Map<String, Object> repair = Json.object(advice.get("repair"));
    return new Advice(
        (Boolean) advice.get("stop"), text(advice, "reason"), optional(advice, "test"), text(advice, "currency"),
        texts(repair, "components"), number(repair, "cost"), number(repair, "residual_risk"),
        number(repair, "expected_cost"),
        Optional.ofNullable(advice.get("contradiction")).map(Assessment::contradiction),
        Optional.ofNullable(advice.get("own_order")).map(Assessment::ownOrder),
        Optional.ofNullable(advice.get("in_time"))
            .map(in -> Json.object(in).get("later"))
            .map(later -> texts(Json.object(later), "components")));
  }

  private static OwnOrder ownOrder(Object value) {
    Map<String, Object> own = Json.object(value);
    return new OwnOrder(text(own, "test"), optional(own, "instead_of"), number(own, "extra_cost"));
  }

  private static Contradiction contradiction(Object value) {
    Map<String, Object> one = Json.object(value);
    return new Contradiction(text(one, "observation"), number(one, "wrong"), number(one, "any_wrong"));
  }

  static <T> List<T> each(Object list, Function<Object, T> read) {
    List<T> items = new ArrayList<>();
    for (Object item : Json.list(list)) items.add(read.apply(item));
    return List.copyOf(items);
  }

  static <T> List<T> eachIfAny(Map<String, Object> from, String key, Function<Object, T> read) {
    return from.containsKey(key) ? each(from.get(key), read) : List.of();
  }

  private static double numberIfAny(Map<String, Object> from, String key) {
    return from.containsKey(key) ? number(from, key) : Double.NaN;
  }

  static String text(Map<String, Object> from, String key) {
    return (String) from.get(key);
  }

  static Optional<String> optional(Map<String, Object> from, String key) {
    return Optional.ofNullable((String) from.get(key));
  }

  static double number(Map<String, Object> from, String key) {
    return (Double) from.get(key);
  }

  private static OptionalDouble maybe(Map<String, Object> from, String key) {
    Object value = from.get(key);
    return value == null ? OptionalDouble.empty() : OptionalDouble.of((Double) value);
  }

  static List<String> texts(Map<String, Object> from, String key) {
    return each(from.get(key), String.class::cast);
  }
}
