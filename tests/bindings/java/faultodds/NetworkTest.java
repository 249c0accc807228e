package faultodds;

import static org.junit.Assert.assertEquals;
import static org.junit.Assert.assertThrows;
import static org.junit.Assert.assertTrue;

import java.util.List;
import java.util.Map;
import java.util.stream.Collectors;
import org.junit.Test;

/** Networks, against tests/vectors/networks.json. */
public class NetworkTest {
  private static final Map<String, Object> TABLE =
      Json.object(Json.parse(Documents.read(Documents.ROOT.resolve("tests/vectors/networks.json"))));
  private static final double TOLERANCE = (Double) TABLE.get("tolerance");

  private static List<Map<String, Object>> objects(Object list) {
    return Json.list(list).stream().map(Json::object).toList();
  }

  private static String text(Map<String, Object> network) {
    return Json.list(network.get("text")).stream().map(String.class::cast).collect(Collectors.joining("\n"));
  }

  private static Network load(Map<String, Object> network) {
    return new Network(
        text(network), "bif".equals(network.get("format")) ? Network.Format.BIF : Network.Format.XMLBIF, 0);
  }

  private static Network.Evidence evidence(Map<String, Object> query) {
    Network.Evidence evidence = new Network.Evidence();
    Json.object(query.get("evidence"))
        .forEach(
            (variable, what) -> {
              if (what instanceof String state) evidence.is(variable, state);
              else evidence.like(variable, numbers(what));
            });
    return evidence;
  }

  private static double[] numbers(Object list) {
    return Json.list(list).stream().mapToDouble(Double.class::cast).toArray();
  }

  @Test
  public void everyQueryOfTheTableIsAnsweredAsExpected() {
    int answered = 0;
    for (Map<String, Object> entry : objects(TABLE.get("networks"))) {
      try (Network network = load(entry)) {
        assertEquals(entry.get("variables"), network.variables());
        for (Map<String, Object> query : objects(entry.get("queries"))) {
          Network.Answer answer = network.query(evidence(query));
          String name = (String) query.get("name");
          assertEquals(name, (Double) query.get("evidence_probability"), Math.exp(answer.logEvidence()), TOLERANCE);
          assertEquals(network.variables(), List.copyOf(answer.posteriors().keySet()));
          if (!query.containsKey("posteriors")) continue;
          for (Map.Entry<String, Object> expected : Json.object(query.get("posteriors")).entrySet()) {
            double[] got = answer.posteriors().get(expected.getKey());
            double[] wanted = numbers(expected.getValue());
            assertEquals(network.states(expected.getKey()).size(), got.length);
            for (int state = 0; state < wanted.length; ++state) assertEquals(name, wanted[state], got[state], TOLERANCE);
            ++answered;
          }
        }
      }
    }
    assertTrue(answered > 8);
  }

  @Test
  public void impossibleAndUnknownEvidenceIsRefusedWithItsName() {
    int refused = 0;
    for (Map<String, Object> entry : objects(TABLE.get("networks"))) {
      try (Network network = load(entry)) {
        for (Map<String, Object> refusal : objects(entry.get("refusals"))) {
          FaultoddsException told =
              assertThrows(FaultoddsException.class, () -> network.query(evidence(refusal)));
          assertEquals(refusal.get("code"), told.code());
          assertTrue(told.sentence(), told.sentence().contains((String) refusal.get("message")));
          ++refused;
        }
      }
    }
    assertTrue(refused > 3);
  }

  @Test
  public void aTextThatIsNoNetworkIsRefusedWithItsLine() {
    FaultoddsException told =
        assertThrows(
            FaultoddsException.class, () -> new Network("network x {\n}\nvariable", Network.Format.BIF, 0));
    assertEquals("invalid_document", told.code());
    assertTrue(told.sentence(), told.sentence().startsWith("line 3: "));
    String bif = text(objects(TABLE.get("networks")).get(0));
    assertEquals(
        "limit_exceeded",
        assertThrows(FaultoddsException.class, () -> new Network(bif, Network.Format.BIF, 1)).code());
    assertThrows(IllegalArgumentException.class, () -> new Network(bif, Network.Format.BIF, -1));
  }

  @Test
  public void aClosedNetworkRefusesAndMayBeClosedAgain() {
    Network network = load(objects(TABLE.get("networks")).get(0));
    network.close();
    network.close();
    assertThrows(IllegalStateException.class, () -> network.query(new Network.Evidence()));
  }
}
