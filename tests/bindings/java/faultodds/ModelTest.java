package faultodds;

import static org.junit.Assert.assertEquals;
import static org.junit.Assert.assertThrows;
import static org.junit.Assert.assertTrue;

import java.util.ArrayList;
import java.util.List;
import java.util.concurrent.Callable;
import java.util.concurrent.ExecutorService;
import java.util.concurrent.Executors;
import java.util.concurrent.Future;
import org.junit.Test;

public class ModelTest {
  @Test
  public void theLibraryTellsItsVersion() {
    assertEquals(System.getenv("FAULTODDS_VERSION"), Faultodds.version());
  }

  @Test
  public void namesItsModesObservationsAndOutcomes() {
    try (Model model = new Model(Documents.LIFT)) {
      assertTrue(model.modes().contains("cap_relief.seat_leak"));
      assertTrue(model.observations().contains("static/section.a"));
      assertEquals(List.of("none", "slow", "fast"), model.outcomes("drift/cylinder/retract"));
      assertTrue(model.describe().contains("faultodds-model/1"));
      FaultoddsException told =
          assertThrows(FaultoddsException.class, () -> model.outcomes("drift/cylinder/sideways"));
      assertEquals("invalid_argument", told.code());
    }
  }

  @Test
  public void aNoteSaysTheCautionsBeforeTheTest() {
    try (Model model = new Model(Documents.LIFT)) {
      String note = model.note(Documents.DRIFTS);
      assertTrue(note, note.indexOf("Lock out and tag out") < note.indexOf("Next test"));
      assertTrue(model.noteHtml(Documents.DRIFTS).startsWith("<!DOCTYPE html>"));
    }
  }

  @Test
  public void wordsOfAComplaintProposeSymptomsThatTheCircuitHas() {
    try (Model model = new Model(Documents.read(Documents.ROOT.resolve("examples/refuse_truck/circuit.json")))) {
      Proposal first = model.propose("the arm comes down by itself between houses").get(0);
      assertEquals("drift/arm_cylinder/retract", first.observation());
      assertEquals("slow", first.outcome());
      assertTrue(first.because().contains("by itself"));
      assertEquals("drift/arm_cylinder/retract", model.propose("der Arm sinkt", "de", null).get(0).observation());
      assertEquals(List.of(), model.propose("radio dead"));
      FaultoddsException told = assertThrows(FaultoddsException.class, () -> model.propose("arm", "tlh", null));
      assertEquals("invalid_argument", told.code());
    }
  }

  @Test
  public void whatAScreenNeedsIsTypedAndHasTheCautionsOfTheWholeAnswer() {
    try (Model model = new Model(Documents.LIFT)) {
      Assessment whole = model.assess(Documents.DRIFTS);
      Assessment screen = model.assess(Documents.DRIFTS.replace("\"detail\":\"full\",", ""));
      assertTrue(screen.json(), screen.json().contains("\"detail\":\"screen\""));
      for (int i = 0; i < screen.tests().size(); ++i) {
        Assessment.Test test = screen.tests().get(i), same = whole.tests().get(i);
        assertEquals(same.title(), test.title());
        assertEquals(same.cautions(), test.cautions());
        assertEquals(same.because(), test.because());
        assertTrue(test.informationBits().isEmpty() && same.informationBits().isPresent());
      }
      assertEquals(whole.tests().get(screen.tests().size()).title(), screen.furtherTests().get(0).title());
      assertEquals(whole.advice().get().reason(), screen.advice().get().reason());
      assertTrue(screen.faults().size() < whole.faults().size());
      assertTrue(screen.logEvidence().isEmpty() && screen.withheld().isEmpty());
    }
  }

  @Test
  public void aPlanBeginsWithTheTestOfTheAdviceAndItsCardWithTheCautions() {
    try (Model model = new Model(Documents.LIFT)) {
      Plan plan = model.plan(Documents.DRIFTS);
      Plan.PlanNode first = plan.tree().get();
      assertEquals(model.assess(Documents.DRIFTS).advice().get().test(), first.test());
      assertEquals(1, first.branches().stream().mapToDouble(Plan.PlanBranch::probability).sum(), 1e-9);
      assertTrue(first.cautions().size() >= 6);
      assertTrue(first.branches().stream().anyMatch(branch -> branch.then().isPresent()));
      String card = model.planCard(Documents.DRIFTS);
      assertTrue(card, card.indexOf("Lock out and tag out") < card.indexOf("<svg"));
    }
  }

  @Test
  public void aClosedWorkOrderIsARecordAndRowsToLearnFrom() {
    try (Model model = new Model(Documents.LIFT)) {
      assertTrue(model.record(Documents.DRIFTS, Documents.CLOSED).contains("faultodds-record/1"));
      String rows = model.recordRows(Documents.DRIFTS, Documents.CLOSED, false);
      assertTrue(rows, rows.contains("cap_relief") && rows.contains("seat_leak"));
      String headed = model.recordRows(Documents.DRIFTS, Documents.CLOSED, true);
      assertTrue(headed.length() > rows.length() && headed.endsWith(rows));
      String wrong = Documents.CLOSED.replace("cap_relief", "teapot");
      FaultoddsException told =
          assertThrows(FaultoddsException.class, () -> model.record(Documents.DRIFTS, wrong));
      assertEquals("/found/0/component", told.pointer());
    }
  }

  @Test
  public void aClosedModelRefusesAndMayBeClosedAgain() {
    Model model = new Model(Documents.LIFT);
    model.close();
    model.close();
    assertThrows(IllegalStateException.class, () -> model.assess(Documents.DRIFTS));
    assertThrows(IllegalStateException.class, model::openCase);
  }

  @Test
  public void aRefusedCircuitThrowsFromTheConstructor() {
    FaultoddsException told =
        assertThrows(FaultoddsException.class, () -> new Model("{\"format\":\"faultodds-circuit/1\"}").close());
    assertEquals("invalid_document", told.code());
    assertTrue(told.getMessage().startsWith("invalid_document: "));
  }

  @Test
  public void aMemoryBudgetThatIsTooSmallIsAnnounced() {
    FaultoddsException told =
        assertThrows(
            FaultoddsException.class,
            () -> {
              try (Model model = new Model(Documents.LIFT, null, "", 1)) {
                model.assess(Documents.DRIFTS);
              }
            });
    assertEquals("limit_exceeded", told.code());
    assertThrows(IllegalArgumentException.class, () -> new Model(Documents.LIFT, null, "", -1).close());
  }

  @Test
  public void anAssetClassChoosesAmongThePriors() {
    String priors =
        "{\"format\":\"faultodds-priors/1\",\"id\":\"p\",\"title\":\"p\",\"modes\":[{\"type\":\"port_relief\","
            + "\"mode\":\"seat_leak\",\"asset_class\":\"old\",\"grades\":[0.5,0.3,0.2],\"method\":\"judgement\"}]}";
    String nothingSeen = Documents.lift();
    try (Model old = new Model(Documents.LIFT, priors, "old", 0);
        Model any = new Model(Documents.LIFT, priors, "", 0)) {
      assertEquals(0.5, seatLeakSound(old.assess(nothingSeen)), 1e-12);
      assertTrue(seatLeakSound(any.assess(nothingSeen)) > 0.8);
    }
  }

  private static double seatLeakSound(Assessment answer) {
    return answer.faults().stream()
        .filter(fault -> fault.mode().equals("cap_relief.seat_leak"))
        .findFirst()
        .orElseThrow()
        .grades()
        .sound();
  }

  @Test
  public void textOfAnyLanguageComesThroughAndWhatIsNoUnicodeIsRefused() {
    String title = "Hubzylinder – 缸 🛢";
    String titled = Documents.LIFT.replace("\"id\": \"cylinder\"", "\"id\": \"cylinder\", \"title\": \"" + title + "\"");
    try (Model model = new Model(titled)) {
      assertTrue(model.describe().contains(title));
      String wrong = "\ud800";
      assertThrows(IllegalArgumentException.class, () -> model.assess(wrong));
    }
  }

  @Test
  public void manyThreadsShareOneModel() throws Exception {
    ExecutorService threads = Executors.newFixedThreadPool(4);
    try (Model model = new Model(Documents.LIFT)) {
      String expected = model.assess(Documents.DRIFTS).json();
      List<Callable<Boolean>> work = new ArrayList<>();
      for (int i = 0; i < 200; ++i) work.add(() -> model.assess(Documents.DRIFTS).json().equals(expected));
      for (Future<Boolean> same : threads.invokeAll(work)) assertTrue(same.get());
    } finally {
      threads.shutdown();
    }
  }

  @Test
  public void closingWaitsForCallsOfOtherThreads() throws Exception {
    ExecutorService threads = Executors.newFixedThreadPool(3);
    try {
      Model model = new Model(Documents.LIFT);
      List<Future<Integer>> counts = new ArrayList<>();
      for (int i = 0; i < 3; ++i) {
        counts.add(
            threads.submit(
                () -> {
                  int answered = 0;
                  try {
                    while (answered < 10000) {
                      assertTrue(model.assess(Documents.DRIFTS).logEvidence().getAsDouble() < 0);
                      ++answered;
                    }
                  } catch (IllegalStateException closed) {
                    return answered;
                  }
                  return answered;
                }));
      }
      model.close();
      for (Future<Integer> count : counts) assertTrue(count.get() < 10000);
    } finally {
      threads.shutdown();
    }
  }
}
