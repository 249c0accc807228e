package faultodds;

import static org.junit.Assert.assertArrayEquals;
import static org.junit.Assert.assertEquals;
import static org.junit.Assert.assertThrows;
import static org.junit.Assert.assertTrue;

import java.util.ArrayList;
import java.util.List;
import org.junit.Test;

/** Many cases of one model at once. */
public class BatchTest {
  private static final String[] OUTCOMES = {"none", "slow", "fast"};

  private static List<Case> cases(Model model, int count) {
    List<Case> cases = new ArrayList<>();
    for (int i = 0; i < count; ++i) {
      Case work = model.openCase();
      work.observe("drift/cylinder/retract", OUTCOMES[i % 3]);
      if (i % 2 == 1) work.observe("static/section.a", i % 4 == 1 ? "held" : "would_not_build");
      cases.add(work);
    }
    return cases;
  }

  @Test
  public void togetherAsOneByOneToTheBit() {
    try (Model model = new Model(Documents.LIFT)) {
      for (int threads : new int[] {1, 3}) {
        List<Case> together = cases(model, 30);
        Case.assessAll(together, threads);
        List<Case> alone = cases(model, 30);
        for (int i = 0; i < alone.size(); ++i) {
          alone.get(i).assess();
          assertEquals(alone.get(i).logEvidence(), together.get(i).logEvidence(), 0);
          assertArrayEquals(
              alone.get(i).posteriors().get("cap_relief.seat_leak"),
              together.get(i).posteriors().get("cap_relief.seat_leak"), 0);
          assertEquals(alone.get(i).tests(), together.get(i).tests());
        }
      }
      Case.assessAll(List.of(), 1);
    }
  }

  @Test
  public void theFirstThatCannotBeAssessedIsToldAndTheOthersAreAssessed() {
    try (Model model = new Model(Documents.LIFT)) {
      List<Case> cases = cases(model, 3);
      cases.get(1).observeLikelihood("static/section.a", 0, 0, 1);
      cases.get(1).observeLikelihood("static/section.a", 1, 0, 0);
      FaultoddsException told = assertThrows(FaultoddsException.class, () -> Case.assessAll(cases, 1));
      assertEquals("conflicting_evidence", told.code());
      assertTrue(told.pointer(), told.pointer().startsWith("/cases/1"));
      assertTrue(cases.get(2).logEvidence() <= 0);
      assertThrows(FaultoddsException.class, () -> cases.get(1).logEvidence());
    }
  }

  @Test
  public void oneCaseTwiceAndAClosedOneAreRefused() {
    try (Model model = new Model(Documents.LIFT)) {
      List<Case> cases = cases(model, 2);
      Case first = cases.get(0);
      assertEquals(
          "invalid_argument",
          assertThrows(FaultoddsException.class, () -> Case.assessAll(List.of(first, first), 1)).code());
      assertThrows(IllegalArgumentException.class, () -> Case.assessAll(cases, 0));
      cases.get(1).close();
      assertThrows(IllegalStateException.class, () -> Case.assessAll(cases, 1));
    }
  }
}
