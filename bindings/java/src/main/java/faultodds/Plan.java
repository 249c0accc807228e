package faultodds;

import java.util.List;
import java.util.Map;
import java.util.Optional;

/**
 * A plan, {@code "faultodds-plan/1"}: the tests to make one after the other, by outcome. What most screens show
 * is typed; {@link #json()} is the whole of it.
 */
public final class Plan {
  private final String json;
  private final List<String> cautions;
  private final Optional<String> complaint;
  private final double leftOut;
  private final List<Part> parts;
  private final List<Assessment.NotPossible> notPossible;
  private final Optional<Node> tree;

  Plan(String json) {
    Map<String, Object> document = Json.object(Json.parse(json));
    this.json = json;
    cautions = Assessment.texts(document, "cautions");
    complaint = Assessment.optional(document, "complaint");
    tree = Optional.ofNullable(document.get("tree")).map(Plan::node);
    leftOut = tree.isPresent() ? Assessment.number(document, "left_out") : 0;
    parts = tree.isPresent() ? Assessment.each(document.get("parts"), Plan::part) : List.of();
    notPossible = document.containsKey("not_possible")
        ? Assessment.each(document.get("not_possible"), Assessment::notPossible) : List.of();
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
   * The cautions for all work, to be shown before everything.
   *
   * @return sentences
   */
  public List<String> cautions() {
    return cautions;
  }

  /**
   * What is complained of; absent where nothing abnormal is recorded, as is the tree.
   *
   * @return id of an observation
   */
  public Optional<String> complaint() {
    return complaint;
  }

  /**
   * Probability of all branches that are not followed.
   *
   * @return a probability
   */
  public double leftOut() {
    return leftOut;
  }

  /**
   * Which parts are probably needed, most probable first.
   *
   * @return the parts
   */
  public List<Part> parts() {
    return parts;
  }

  /**
   * The tests that the case says cannot be made on this machine.
   *
   * @return each with the reason given
   */
  public List<Assessment.NotPossible> notPossible() {
    return notPossible;
  }

  /**
   * Where the plan begins.
   *
   * @return the first node
   */
  public Optional<Node> tree() {
    return tree;
  }

  /**
   * A part that is probably needed.
   *
   * @param component id
   * @param probability that the plan ends with replacing it
   */
  public record Part(String component, double probability) {}

  /**
   * A test to make, an end, or neither where the plan was cut.
   *
   * @param reached probability of coming here
   * @param cut why it goes no further: {@code depth}, {@code time} or {@code limit}; absent where it does
   * @param test absent at an end
   * @param end absent at a test
   */
  public record Node(double reached, Optional<String> cut, Optional<Test> test, Optional<End> end) {}

  /**
   * A test. Show its cautions before it.
   *
   * @param cautions to be shown before the test
   * @param observation id, under which its result is entered
   * @param title what to do
   * @param energised needs power on or a load left up
   * @param again it was made before, and is looked at once more
   * @param minutes setup not yet done included
   * @param bring adapters and plugs
   * @param branches one for each outcome
   */
  public record Test(
      List<String> cautions, String observation, String title, boolean energised, boolean again, double minutes,
      List<Assessment.Fitting> bring, List<Branch> branches) {}

  /**
   * What follows an outcome.
   *
   * @param outcome the outcome
   * @param probability of it, once the test is made
   * @param then absent where the branch is not followed
   */
  public record Branch(String outcome, double probability, Optional<Node> then) {}

  /**
   * What to do at the end.
   *
   * @param replace the components to exchange and check, in that order
   * @param cost of exchanging all of them
   * @param residualRisk probability that the complaint stays
   * @param expectedCost with what follows then
   * @param verify what proves it
   */
  public record End(
      List<String> replace, double cost, double residualRisk, double expectedCost, List<Verification> verify) {}

  /**
   * A test that proves the repair. Show its cautions before it.
   *
   * @param cautions to be shown before the test
   * @param observation id
   * @param title what to do
   * @param energised needs power on or a load left up
   * @param minutes what it takes
   * @param normal probability of the normal outcome
   * @param riskIfNormal that the complaint stays, then
   */
  public record Verification(
      List<String> cautions, String observation, String title, boolean energised, double minutes, double normal,
      double riskIfNormal) {}

  private static Part part(Object value) {
    Map<String, Object> part = Json.object(value);
    return new Part(Assessment.text(part, "component"), Assessment.number(part, "probability"));
  }

  private static Node node(Object value) {
    Map<String, Object> node = Json.object(value);
    return new Node(
        Assessment.number(node, "reached"), Assessment.optional(node, "cut"),
        Optional.ofNullable(node.get("test")).map(test -> test(node)),
        Optional.ofNullable(node.get("replace")).map(repair -> end(node, Json.object(repair))));
  }

  private static Test test(Map<String, Object> node) {
    return new Test(
        Assessment.texts(node, "cautions"), Assessment.text(node, "test"), Assessment.text(node, "title"),
        (Boolean) node.get("energised"), node.containsKey("again"), Assessment.number(node, "minutes"),
        Assessment.each(node.get("bring"), Assessment::fitting),
        Assessment.each(node.get("branches"), Plan::branch));
  }

  private static Branch branch(Object value) {
    Map<String, Object> branch = Json.object(value);
    return new Branch(
        Assessment.text(branch, "outcome"), Assessment.number(branch, "probability"),
        Optional.ofNullable(branch.get("then")).map(Plan::node));
  }

  private static End end(Map<String, Object> node, Map<String, Object> repair) {
    return new End(
        Assessment.texts(repair, "components"), Assessment.number(repair, "cost"),
        Assessment.number(repair, "residual_risk"), Assessment.number(repair, "expected_cost"),
        Assessment.each(node.get("verify"), Plan::verification));
  }

  private static Verification verification(Object value) {
    Map<String, Object> one = Json.object(value);
    return new Verification(
        Assessment.texts(one, "cautions"), Assessment.text(one, "observation"), Assessment.text(one, "title"),
        (Boolean) one.get("energised"), Assessment.number(one, "minutes"), Assessment.number(one, "normal"),
        Assessment.number(one, "risk_if_normal"));
  }
}
