package faultodds;

import static org.junit.Assert.assertEquals;
import static org.junit.Assert.assertNotNull;
import static org.junit.Assert.assertThrows;
import static org.junit.Assert.assertTrue;

import java.nio.file.Path;
import java.util.ArrayList;
import java.util.HashSet;
import java.util.List;
import java.util.LinkedHashMap;
import java.util.Map;
import java.util.Optional;
import java.util.Set;
import org.junit.Test;

/** The binding answers tests/vectors/assessments.json and refuses the bad documents. */
public class VectorsTest {
  private static final Map<String, Object> TABLE =
      Json.object(Json.parse(Documents.read(Documents.ROOT.resolve("tests/vectors/assessments.json"))));
  private static final double TOLERANCE = (Double) TABLE.get("tolerance");

  private record Vector(String name, String circuit, String theCase, Map<String, Object> all) {
    List<Object> events() {
      return Json.list(all.get("events"));
    }

    Map<String, Object> part(String key) {
      return Json.object(all.get(key));
    }
  }

  private static List<Vector> with(String key) {
    List<Vector> vectors = new ArrayList<>();
    for (Object entry : Json.list(TABLE.get("vectors"))) {
      Map<String, Object> all = Json.object(entry);
      if (!all.containsKey(key)) continue;
      vectors.add(
          new Vector(
              (String) all.get("name"),
              Documents.read(Documents.ROOT.resolve((String) all.get("circuit"))),
              Documents.write(all.get("case")),
              all));
    }
    assertTrue(vectors.size() > 5);
    return vectors;
  }

  private static void agree(String place, Object expected, Object actual) {
    if (expected instanceof Map<?, ?>) {
      Map<String, Object> got = Json.object(actual);
      Json.object(expected)
          .forEach(
              (key, value) -> {
                if (key.equals("among")) {
                  Json.object(value)
                      .forEach((name, items) ->
                          eachFound(place + "/" + name, Json.list(items), Json.list(got.get(name))));
                } else {
                  assertTrue(place + "/" + key + " is missing", got.containsKey(key));
                  agree(place + "/" + key, value, got.get(key));
                }
              });
    } else if (expected instanceof List<?> wanted) {
      assertEquals(place, wanted.size(), Json.list(actual).size());
      if (areNamed(wanted)) {
        eachFound(place, Json.list(expected), Json.list(actual));
        return;
      }
      for (int i = 0; i < wanted.size(); ++i) agree(place + "/" + i, wanted.get(i), Json.list(actual).get(i));
    } else if (expected instanceof Double wanted) {
      assertNotNull(place, actual);
      assertEquals(place, wanted, (Double) actual, TOLERANCE * Math.max(1, Math.abs(wanted)));
    } else {
      assertEquals(place, expected, actual);
    }
  }

  // What an item of a list is found by, whatever its place; null if it has no name.
  private static Object nameOf(Object item) {
    if (!(item instanceof Map<?, ?> members)) return null;
    for (String key : List.of("mode", "observation", "components")) {
      if (members.containsKey(key)) return members.get(key);
    }
    return null;
  }

  // Whether the items of a list can be found by their names.
  private static boolean areNamed(List<?> items) {
    Set<Object> names = new HashSet<>();
    for (Object item : items) {
      if (nameOf(item) == null || !names.add(nameOf(item))) return false;
    }
    return true;
  }

  private static void eachFound(String place, List<Object> expected, List<Object> actual) {
    for (Object item : expected) {
      Object name = nameOf(item);
      Object found = actual.stream().filter(other -> name.equals(nameOf(other))).findFirst().orElse(null);
      assertNotNull(place + "/" + name + " is missing", found);
      agree(place + "/" + name, item, found);
    }
  }

  // In the document's form.
  private static Map<String, Object> written(Assessment.Causes of) {
    List<Object> shares = new ArrayList<>();
    for (Assessment.Share share : of.shares()) {
      shares.add(Map.of("components", new ArrayList<Object>(share.components()), "probability", share.probability()));
    }
    return Map.of(
        "observation", of.observation(), "shares", shares, "by_design", of.byDesign(), "elsewhere", of.elsewhere(),
        "nothing", of.nothing());
  }

  private static void agreeOnCauses(String place, Map<String, Object> expected, List<Assessment.Causes> actual) {
    List<Object> wanted = Json.list(expected.get("causes"));
    assertEquals(place, wanted.size(), actual.size());
    for (int i = 0; i < wanted.size(); ++i) agree(place + "/causes/" + i, wanted.get(i), written(actual.get(i)));
  }

  private static void tell(Case theCase, Object event) {
    Map<String, Object> told = Json.object(event);
    if (told.containsKey("retract")) {
      theCase.retract((String) told.get("retract"));
    } else if (told.containsKey("setup_done")) {
      theCase.setupDone((String) told.get("setup_done"));
    } else {
      Map<String, Object> entry = Json.object(told.get("observe"));
      String observation = (String) entry.get("observation");
      if (entry.containsKey("outcome")) {
        theCase.observe(observation, (String) entry.get("outcome"));
      } else if (entry.containsKey("likelihood")) {
        List<Object> grades = Json.list(entry.get("likelihood"));
        theCase.observeLikelihood(
            observation, (Double) grades.get(0), (Double) grades.get(1), (Double) grades.get(2));
      } else if (entry.containsKey("repaired")) {
        theCase.repaired(Json.list(entry.get("repaired")).toArray(new String[0]));
      } else {
        theCase.observeEntry(Documents.write(entry));
      }
    }
  }

  @Test
  public void theOneCallAndAModelGiveWhatIsExpected() {
    for (Vector vector : with("expected")) {
      try (Model model = new Model(vector.circuit())) {
        Assessment answer = Faultodds.assess(vector.circuit(), vector.theCase());
        agree(vector.name(), vector.part("expected"), Json.parse(answer.json()));
        agree(vector.name(), vector.part("expected"), Json.parse(model.assess(vector.theCase()).json()));
      }
    }
  }

  @Test
  public void theTypedAnswerSaysWhatTheDocumentSays() {
    for (Vector vector : with("expected")) {
      if (!vector.part("expected").containsKey("faults")) continue; // a large one, of which only a part is given
      Map<String, Object> expected = vector.part("expected");
      Assessment answer = Faultodds.assess(vector.circuit(), vector.theCase());
      agree(vector.name(), expected.get("log_evidence"), answer.logEvidence().getAsDouble());
      assertEquals(vector.name(), expected.get("complaint"), answer.complaint());
      agreeOnCauses(vector.name(), expected, answer.causes());
      List<Object> faults = Json.list(expected.get("faults"));
      assertEquals(faults.size(), answer.faults().size());
      for (Object item : faults) {
        Map<String, Object> wanted = Json.object(item);
        Assessment.Fault fault =
            answer.faults().stream().filter(f -> f.mode().equals(wanted.get("mode"))).findFirst().orElseThrow();
        agree(fault.mode(), wanted.get("grades"), List.of(fault.grades().sound(), fault.grades().worn(), fault.grades().failed()));
        agree(fault.mode(), wanted.get("posterior_odds"), fault.posteriorOdds().getAsDouble());
      }
      List<Object> tests = Json.list(expected.get("tests"));
      assertEquals(tests.size(), answer.tests().size());
      for (Object item : tests) {
        Map<String, Object> wanted = Json.object(item);
        Assessment.Test test =
            answer.tests().stream()
                .filter(t -> t.observation().equals(wanted.get("observation")))
                .findFirst()
                .orElseThrow();
        agree(test.observation(), wanted.get("probability"), test.probability());
        agree(test.observation(), wanted.get("minutes"), test.minutes());
        assertEquals(wanted.get("suspects"), test.suspects());
        assertEquals(wanted.get("test_pressure"), test.testPressure().orElse(null));
        assertTrue(test.observation() + " has cautions", test.cautions().size() >= 6);
      }
      assertEquals(expected.containsKey("advice"), answer.advice().isPresent());
      answer.advice().ifPresent(advice -> {
        Map<String, Object> wanted = Json.object(expected.get("advice"));
        if (wanted.isEmpty()) return;
        assertEquals(wanted.get("stop"), advice.stop());
        assertEquals(Json.object(wanted.get("repair")).get("components"), advice.repair().components());
      });
    }
  }

  // In the document's form.
  /** Of names and values in turn, the first where there is one. */
  private static Map<String, Object> with(String name, Optional<String> value, String... more) {
    Map<String, Object> all = new LinkedHashMap<>();
    value.ifPresent(there -> all.put(name, there));
    for (int i = 0; i < more.length; i += 2) all.put(more[i], more[i + 1]);
    return all;
  }

  private static List<Object> written(List<Assessment.Step> steps) {
    List<Object> all = new ArrayList<>();
    for (Assessment.Step step : steps) {
      Map<String, Object> one = new LinkedHashMap<>();
      one.put("id", step.id());
      one.put("title", step.title());
      step.minutes().ifPresent(minutes -> one.put("minutes", minutes));
      if (!step.at().isEmpty()) one.put("at", step.at());
      if (!step.pastLeak().isEmpty()) one.put("past_leak", step.pastLeak());
      all.add(one);
    }
    return all;
  }

  @Test
  public void theTypedAnswerSaysWhatMayBePressedAndWhatNotAndWhy() {
    int limits = 0, unknown = 0, withheld = 0, ends = 0, rated = 0;
    for (String machine :
        List.of(
            "examples/refuse_truck/circuit.json", "examples/veneer_press/circuit.json", "tests/bindings/lift.json")) {
      Assessment answer =
          Faultodds.assess(
              Documents.read(Documents.ROOT.resolve(machine)),
              "{\"format\": \"faultodds-case/1\", \"detail\": \"full\", \"observations\": []}");
      Map<String, Object> document = Json.object(Json.parse(answer.json()));
      List<Object> tests = Json.list(document.get("tests"));
      assertEquals(tests.size(), answer.tests().size());
      for (int i = 0; i < tests.size(); ++i) {
        Map<String, Object> wanted = Json.object(tests.get(i));
        Assessment.Test test = answer.tests().get(i);
        String place = machine + " " + test.observation();
        assertEquals(place, wanted.get("setup"), written(test.setup()));
        assertEquals(place, wanted.get("steps"), written(test.steps()));
        assertEquals(place, wanted.get("afterwards"), written(test.afterwards()));
        ends += test.afterwards().size();
        assertEquals(
            place,
            wanted.get("pressure_limit"),
            test.pressureLimit()
                .map(
                    limit -> {
                      Map<String, Object> all =
                          with("part", limit.part(), "volume", limit.volume(), "by", limit.by(), "stands", limit.stands(),
                              "why", limit.why());
                      limit.factor().ifPresent(factor -> all.put("factor", factor));
                      limit.suspect().ifPresent(suspect -> all.put("suspect", suspect));
                      return all;
                    })
                .orElse(null));
        limits += test.pressureLimit().isPresent() ? 1 : 0;
        assertEquals(
            place,
            wanted.get("no_pressure"),
            test.noPressure()
                .map(
                    none ->
                        with("part", none.part(), "reason", none.reason(), "volume", none.volume(), "why", none.why()))
                .orElse(null));
        unknown += test.noPressure().isPresent() ? 1 : 0;
        List<Object> bring = Json.list(wanted.get("bring"));
        for (int k = 0; k < bring.size(); ++k) {
          String least = test.bring().get(k).ratedFor().orElse(null);
          assertEquals(place, Json.object(bring.get(k)).get("rated_for"), least);
          rated += least == null ? 0 : 1;
        }
      }
      List<Object> holds = new ArrayList<>();
      for (Assessment.Withheld hold : answer.withheld()) {
        holds.add(
            with(
                "part", hold.part(), "observation", hold.observation(), "reason", hold.reason(), "volume", hold.volume(),
                "why", hold.why()));
      }
      assertEquals(machine, document.get("withheld"), holds);
      withheld += holds.size();
    }
    assertTrue(
        "of each there are some: " + List.of(limits, unknown, withheld, ends, rated),
        limits > 0 && unknown > 0 && withheld > 0 && ends > 0 && rated > 0);
  }

  @Test
  public void anOpenCaseGivesTheSameFromItsEvents() {
    for (Vector vector : with("events")) {
      if (!vector.all().containsKey("expected")) continue;
      Map<String, Object> expected = vector.part("expected");
      try (Model model = new Model(vector.circuit()); Case theCase = model.openCase()) {
        vector.events().forEach(event -> tell(theCase, event));
        theCase.assess();
        agree(vector.name(), expected, Json.parse(theCase.answer().json()));
        agree(vector.name(), expected.get("log_evidence"), theCase.logEvidence());
        Map<String, double[]> grades = theCase.posteriors();
        for (Object entry : Json.list(expected.get("faults"))) {
          Map<String, Object> fault = Json.object(entry);
          double[] got = grades.get(fault.get("mode"));
          agree((String) fault.get("mode"), fault.get("grades"), List.of(got[0], got[1], got[2]));
        }
        // A second look at the complaint is advice; the ranking is of what was not made yet.
        List<Object> tests =
            Json.list(expected.get("tests")).stream()
                .filter(test -> !Json.object(test).containsKey("again"))
                .toList();
        List<RankedTest> ranking = theCase.tests();
        assertEquals(tests.size(), ranking.size());
        Assessment answer = theCase.answer();
        String first = answer.advice().flatMap(Assessment.Advice::test).orElse("");
        List<String> order = new ArrayList<>(ranking.stream().map(RankedTest::observation).toList());
        if (order.remove(first)) order.add(0, first);
        assertEquals(
            order,
            answer.tests().stream()
                .map(Assessment.Test::observation)
                .filter(order::contains)
                .toList());
        agreeOnCauses(vector.name(), expected, theCase.causes());
        for (Object item : tests) {
          Map<String, Object> wanted = Json.object(item);
          RankedTest test =
              ranking.stream()
                  .filter(t -> t.observation().equals(wanted.get("observation")))
                  .findFirst()
                  .orElseThrow();
          assertEquals(wanted.get("energised"), test.energised());
          agree("bits", wanted.get("information_bits"), test.informationBits());
          agree("bits", wanted.get("cause_bits"), test.causeBits());
          agree("minutes", wanted.get("minutes"), test.minutes());
          agree("rate", wanted.get("bits_per_minute"), test.bitsPerMinute());
        }
      }
    }
  }

  @Test
  public void whatIsRefusedIsRefusedWithCodePlaceAndWords() {
    for (Vector vector : with("refusal")) {
      Map<String, Object> refusal = vector.part("refusal");
      try (Model model = new Model(vector.circuit())) {
        FaultoddsException told =
            assertThrows(vector.name(), FaultoddsException.class, () -> model.assess(vector.theCase()));
        assertEquals(vector.name(), refusal.get("code"), told.code());
        assertEquals(vector.name(), refusal.get("pointer"), told.pointer());
        assertTrue(told.sentence(), told.sentence().contains((String) refusal.get("message")));
        told =
            assertThrows(
                FaultoddsException.class, () -> Faultodds.assess(vector.circuit(), vector.theCase()));
        assertEquals("/case" + refusal.get("pointer"), told.pointer());
        if (!refusal.containsKey("event_code")) continue;
        try (Case theCase = model.openCase()) {
          told =
              assertThrows(
                  FaultoddsException.class,
                  () -> {
                    vector.events().forEach(event -> tell(theCase, event));
                    theCase.assess();
                  });
          assertEquals(vector.name(), refusal.get("event_code"), told.code());
        }
      }
    }
  }

  @Test
  public void everyBadDocumentIsRefusedWithItsCodeItsPlaceAndItsWords() {
    List<Object> entries =
        Json.list(Json.parse(Documents.read(Path.of(System.getenv("FAULTODDS_BAD_DOCUMENTS")))));
    assertTrue(entries.size() > 50);
    for (Object item : entries) {
      Map<String, Object> entry = Json.object(item);
      String name = (String) entry.get("name");
      FaultoddsException told =
          assertThrows(
              name,
              FaultoddsException.class,
              () ->
                  Faultodds.assess(
                      (String) entry.get("circuit"), (String) entry.get("case"), (String) entry.get("priors")));
      assertEquals(name, entry.get("code"), told.code());
      if (entry.get("pointer") != null) assertEquals(name, entry.get("pointer"), told.pointer());
      for (Object words : Json.list(entry.get("message"))) {
        assertTrue(name + ": " + told.sentence(), told.sentence().contains((String) words));
      }
    }
  }
}
