package faultodds;

import java.util.List;
import java.util.Map;

/**
 * What the words of a complaint may mean. It is no evidence before a person confirms it.
 *
 * @param observation id of a symptom
 * @param outcome of it
 * @param score how well the words fit, up to 1
 * @param because the words that decided
 */
public record Proposal(String observation, String outcome, double score, List<String> because) {
  static List<Proposal> read(String json) {
    return Json.list(Json.object(Json.parse(json)).get("proposals")).stream().map(Proposal::of).toList();
  }

  private static Proposal of(Object value) {
    Map<String, Object> one = Json.object(value);
    return new Proposal(
        (String) one.get("observation"), (String) one.get("outcome"), ((Number) one.get("score")).doubleValue(),
        Json.list(one.get("because")).stream().map(String.class::cast).toList());
  }
}
