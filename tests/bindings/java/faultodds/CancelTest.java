package faultodds;

import static org.junit.Assert.assertEquals;
import static org.junit.Assert.assertThrows;

import java.time.Duration;
import java.util.List;
import java.util.concurrent.ExecutorService;
import java.util.concurrent.Executors;
import java.util.concurrent.Future;
import org.junit.Test;
import org.junit.function.ThrowingRunnable;

/** Calls that are ended from outside. */
public class CancelTest {
  private static final String BIF =
      "variable a { type discrete [ 2 ] { x, y }; } probability ( a ) { table 0.25 0.75; }";

  private static final String ONE_ORDER =
      "work_order,closed,component,finding\n1,2024-03-05,port_relief,none\n";

  private static FaultoddsException ended(ThrowingRunnable call) {
    FaultoddsException told = assertThrows(FaultoddsException.class, call);
    assertEquals("cancelled", told.code());
    return told;
  }

  /** A network of which even the size of its tables takes long to find out. */
  private static String grid(int side) {
    StringBuilder text = new StringBuilder();
    for (int i = 0; i < side * side; ++i) text.append("variable v" + i + " { type discrete [ 2 ] { x, y }; }\n");
    for (int i = 0; i < side * side; ++i) {
      String left = i % side > 0 ? "v" + (i - 1) : "";
      String above = i >= side ? "v" + (i - side) : "";
      String parents = left + (left.isEmpty() || above.isEmpty() ? "" : ", ") + above;
      text.append("probability ( v" + i + (parents.isEmpty() ? "" : " | " + parents) + " ) { ");
      text.append(parents.isEmpty() ? "table 0.5 0.5; }\n" : "default 0.5 0.5; }\n");
    }
    return text.toString();
  }

  @Test
  public void endedBeforeItEndsEveryCallItIsGivenTo() {
    try (Cancel cancel = new Cancel();
        Model model = new Model(Documents.LIFT);
        Case work = model.openCase();
        Network network = new Network(BIF, Network.Format.BIF, 0)) {
      cancel.now();
      ended(() -> Faultodds.assess(Documents.LIFT, Documents.DRIFTS, null, cancel));
      ended(() -> new Model(Documents.LIFT, null, "", 0, cancel).close());
      ended(() -> model.assess(Documents.DRIFTS, cancel));
      ended(() -> model.note(Documents.DRIFTS, cancel));
      ended(() -> model.noteHtml(Documents.DRIFTS, cancel));
      ended(() -> model.plan(Documents.DRIFTS, cancel));
      ended(() -> work.assess(cancel));
      ended(() -> Case.assessAll(List.of(work), 2, cancel));
      work.assess();
      ended(() -> work.answer(cancel));
      ended(() -> new Network(BIF, Network.Format.BIF, 0, cancel).close());
      ended(() -> network.query(new Network.Evidence(), cancel));
      Priors.Records one = Priors.Records.text(ONE_ORDER);
      ended(() -> Priors.learn(one, new Priors.LearnOptions("depot").cancel(cancel)));
      ended(() -> Priors.backtest(Documents.LIFT, one, new Priors.BacktestOptions().cancel(cancel)));
    }
  }

  @Test
  public void timeThatIsOverEndsACall() {
    try (Cancel cancel = new Cancel(Duration.ZERO)) {
      FaultoddsException told = ended(() -> new Model(Documents.LIFT, null, "", 0, cancel).close());
      assertEquals("the call's time is over", told.sentence());
    }
  }

  @Test
  public void notEndedACallAnswersAsWithoutIt() {
    try (Cancel cancel = new Cancel(Duration.ofHours(1));
        Model model = new Model(Documents.LIFT, null, "", 0, cancel);
        Case work = model.openCase();
        Network network = new Network(BIF, Network.Format.BIF, 0, cancel)) {
      String expected = model.assess(Documents.DRIFTS).json();
      assertEquals(expected, model.assess(Documents.DRIFTS, cancel).json());
      assertEquals(expected, Faultodds.assess(Documents.LIFT, Documents.DRIFTS, null, cancel).json());
      assertEquals(model.note(Documents.DRIFTS), model.note(Documents.DRIFTS, cancel));
      assertEquals(model.noteHtml(Documents.DRIFTS), model.noteHtml(Documents.DRIFTS, cancel));
      work.observe("drift/cylinder/retract", "fast");
      work.assess(cancel);
      assertEquals(model.assess(Documents.DRIFTS).logEvidence(), work.answer(cancel).logEvidence());
      Case.assessAll(List.of(work), 1, cancel);
      assertEquals(0.25, network.query(new Network.Evidence(), cancel).posteriors().get("a")[0], 0);
      Priors.Records one = Priors.Records.text(ONE_ORDER);
      assertEquals(
          Priors.learn(one, new Priors.LearnOptions("depot")),
          Priors.learn(one, new Priors.LearnOptions("depot").cancel(cancel)));
    }
  }

  @Test
  public void resetItIsAsNewAndWhatWasEndedCanBeUsedOn() {
    try (Cancel cancel = new Cancel();
        Model model = new Model(Documents.LIFT)) {
      cancel.now();
      ended(() -> model.assess(Documents.DRIFTS, cancel));
      cancel.reset();
      assertEquals(model.assess(Documents.DRIFTS).json(), model.assess(Documents.DRIFTS, cancel).json());
      cancel.after(Duration.ZERO);
      ended(() -> model.assess(Documents.DRIFTS, cancel));
      cancel.after(Duration.ofSeconds(Long.MAX_VALUE));
      assertEquals(model.assess(Documents.DRIFTS).json(), model.assess(Documents.DRIFTS, cancel).json());
    }
  }

  @Test
  public void anotherThreadEndsACallThatRuns() throws Exception {
    String text = grid(25);
    ExecutorService threads = Executors.newSingleThreadExecutor();
    try (Cancel cancel = new Cancel()) {
      Future<FaultoddsException> call =
          threads.submit(() -> ended(() -> new Network(text, Network.Format.BIF, 1L << 40, cancel).close()));
      Thread.sleep(200);
      cancel.now();
      assertEquals("the call was cancelled", call.get().sentence());
    } finally {
      threads.shutdown();
    }
  }

  @Test
  public void closingItEndsTheCallsThatHaveIt() throws Exception {
    String text = grid(25);
    ExecutorService threads = Executors.newSingleThreadExecutor();
    try {
      Cancel cancel = new Cancel();
      Future<FaultoddsException> call =
          threads.submit(() -> ended(() -> new Network(text, Network.Format.BIF, 1L << 40, cancel).close()));
      Thread.sleep(200);
      cancel.close();
      assertEquals("the call was cancelled", call.get().sentence());
    } finally {
      threads.shutdown();
    }
  }

  @Test
  public void aCallbackMayEndItsCallButNotCloseWhatTheCallHas() {
    Priors.Records rows = Priors.Records.text("work_order,closed,component,finding\n1,2024-03-05,pump,haunted\n");
    Cancel cancel = new Cancel();
    Priors.LearnOptions how =
        new Priors.LearnOptions("depot")
            .cancel(cancel)
            .reject(
                row -> {
                  cancel.close();
                  return true;
                });
    assertThrows(IllegalStateException.class, () -> Priors.learn(rows, how));
    cancel.close();
  }

  @Test
  public void closedItIsRefusedAndSoIsANegativeTime() {
    Cancel cancel = new Cancel();
    assertThrows(IllegalArgumentException.class, () -> cancel.after(Duration.ofMillis(-1)));
    cancel.close();
    cancel.close();
    assertThrows(IllegalStateException.class, cancel::now);
    assertThrows(IllegalStateException.class, () -> new Model(Documents.LIFT, null, "", 0, cancel).close());
  }
}
