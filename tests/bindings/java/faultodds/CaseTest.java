package faultodds;

import static org.junit.Assert.assertArrayEquals;
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

public class CaseTest {
  @Test
  public void outlivesItsModel() {
    Model model = new Model(Documents.LIFT);
    try (Case theCase = model.openCase()) {
      model.close();
      theCase.observe("drift/cylinder/retract", "fast");
      theCase.assess();
      assertTrue(theCase.logEvidence() < 0);
      assertEquals(0, theCase.errorBound(), 0);
    }
  }

  @Test
  public void aClosedCaseRefusesAndMayBeClosedAgain() {
    try (Model model = new Model(Documents.LIFT)) {
      Case theCase = model.openCase();
      theCase.close();
      theCase.close();
      assertThrows(IllegalStateException.class, theCase::assess);
    }
  }

  @Test
  public void resultsAreRefusedUntilTheCaseIsAssessed() {
    try (Model model = new Model(Documents.LIFT); Case theCase = model.openCase()) {
      assertEquals("invalid_argument", assertThrows(FaultoddsException.class, theCase::posteriors).code());
      theCase.assess();
      theCase.observe("drift/cylinder/retract", "fast");
      assertThrows(FaultoddsException.class, theCase::answer);
    }
  }

  @Test
  public void namesAreQuotedAndNotTakenAsJson() {
    try (Model model = new Model(Documents.LIFT); Case theCase = model.openCase()) {
      FaultoddsException told =
          assertThrows(
              FaultoddsException.class,
              () -> theCase.observe("drift/cylinder/retract", "fast\",\"note\":\"\\\u0001"));
      assertEquals("invalid_case", told.code());
    }
  }

  @Test
  public void threadsThatShareACaseTakeTurns() throws Exception {
    ExecutorService threads = Executors.newFixedThreadPool(4);
    try (Model model = new Model(Documents.LIFT); Case theCase = model.openCase()) {
      theCase.observe("drift/cylinder/retract", "fast");
      theCase.assess();
      double[] expected = theCase.posteriors().get("cap_relief.seat_leak");
      List<Callable<double[]>> work = new ArrayList<>();
      for (int i = 0; i < 400; ++i) {
        work.add(
            () -> {
              theCase.assess();
              return theCase.posteriors().get("cap_relief.seat_leak");
            });
      }
      for (Future<double[]> got : threads.invokeAll(work)) assertArrayEquals(expected, got.get(), 0);
    } finally {
      threads.shutdown();
    }
  }
}
