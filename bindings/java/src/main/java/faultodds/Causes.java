package faultodds;

import java.util.List;

/**
 * Why an observation is as it is. The probabilities of the shares and the three numbers after them sum to 1.
 *
 * @param observation id of the symptom, or of the test that stands for one
 * @param shares what can cause it, most probable first
 * @param byDesign what leaks although all is sound
 * @param elsewhere something that the circuit document does not describe
 * @param nothing nothing wrong: a false report
 */
public record Causes(
    String observation, List<Share> shares, double byDesign, double elsewhere, double nothing) {

  /**
   * Components that together may be the cause.
   *
   * @param components ids
   * @param probability that they are
   */
  public record Share(List<String> components, double probability) {}
}
