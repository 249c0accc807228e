package faultodds;

import static org.junit.Assert.assertEquals;
import static org.junit.Assert.assertFalse;
import static org.junit.Assert.assertSame;
import static org.junit.Assert.assertThrows;
import static org.junit.Assert.assertTrue;

import faultodds.Priors.BacktestOptions;
import faultodds.Priors.LearnOptions;
import faultodds.Priors.Records;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import java.util.function.IntFunction;
import org.junit.Test;

/** Prior packs. The records are invented. */
public class PriorsTest {
  private static final String HEADER =
      "work_order,opened,closed,asset_class,component,position,finding,grade,complaint,tests\n";
  private static final String RECORDS =
      orders(30, i -> i % 3 == 0 ? order(i, "2024-03-05", "seat_leak,failed", "") : order(i, "2024-03-05", "none,", ""));

  private static String order(int number, String closed, String finding, String tests) {
    return "W-" + number + ",2024-03-01," + closed + ",loader,port_relief,cap_relief," + finding
        + ",drift/cylinder/retract=fast," + tests + "\n";
  }

  private static String orders(int count, IntFunction<String> of) {
    StringBuilder rows = new StringBuilder(HEADER);
    for (int i = 0; i < count; ++i) rows.append(of.apply(i));
    return rows.toString();
  }

  private static Priors.Learned learned(String records, String source) {
    return Priors.learn(Records.text(records), new LearnOptions(source));
  }

  private static Map<String, Object> seatLeak(String pack) {
    return Json.list(Json.object(Json.parse(pack)).get("modes")).stream()
        .map(Json::object)
        .filter(mode -> "port_relief".equals(mode.get("type")) && "seat_leak".equals(mode.get("mode")))
        .filter(mode -> !mode.containsKey("asset_class") || "loader".equals(mode.get("asset_class")))
        .reduce((first, second) -> second.containsKey("asset_class") ? second : first)
        .orElseThrow();
  }

  private static Map<String, Object> workOrders(Priors.Learned learned) {
    return Json.object(Json.object(Json.parse(learned.summary())).get("work_orders"));
  }

  @Test
  public void theAuditNamesTheLatestOrdersOfEachModeAndCountsTheOthers() {
    String records = RECORDS + order(100, "2024-04-01", "seat_leak,worn", "");
    Priors.Learned learned = Priors.learn(Records.text(records), new LearnOptions("depot").audit(2));
    Map<String, Object> audit = Json.object(Json.object(Json.parse(learned.summary())).get("audit"));
    Map<String, Object> mode = Json.list(audit.get("modes")).stream()
        .map(Json::object)
        .filter(one -> "seat_leak".equals(one.get("mode")))
        .findFirst()
        .orElseThrow();
    assertEquals(11.0, mode.get("found"));
    assertEquals(9.0, mode.get("left_out"));
    assertEquals("W-100", Json.object(Json.list(mode.get("orders")).get(0)).get("work_order"));
  }

  @Test
  public void whatIsLearnedIsAPackThatAModelTakes() {
    Priors.Learned learned = Priors.learn(Records.text(RECORDS), new LearnOptions("depot").title("Dépôt"));
    assertEquals(30.0, workOrders(learned).get("used"));
    assertEquals(Map.of("sound", 20.0, "worn", 0.0, "failed", 10.0), seatLeak(learned.pack()).get("counts"));
    try (Model model = new Model(Documents.LIFT, learned.pack(), "loader", 0)) {
      Assessment.Fault fault =
          model.assess(Documents.lift()).faults().stream()
              .filter(one -> one.mode().equals("cap_relief.seat_leak"))
              .findFirst()
              .orElseThrow();
      double expected = (Double) Json.list(seatLeak(learned.pack()).get("grades")).get(0);
      assertEquals(expected, fault.grades().sound(), 1e-9);
    }
  }

  @Test
  public void aPathIsAFile() throws Exception {
    Path file = Files.createTempFile("orders", ".csv");
    try {
      Files.writeString(file, RECORDS);
      assertEquals(learned(RECORDS, "depot"), Priors.learn(Records.file(file), new LearnOptions("depot")));
    } finally {
      Files.delete(file);
    }
    FaultoddsException told =
        assertThrows(FaultoddsException.class, () -> Priors.learn(Records.file(file), new LearnOptions("depot")));
    assertTrue(told.sentence(), told.sentence().contains(file.getFileName().toString()));
  }

  @Test
  public void aFileWithoutARowThatCanBeUsedIsRefused() {
    FaultoddsException told =
        assertThrows(
            FaultoddsException.class, () -> learned(HEADER + order(1, "2024-03-05", "haunted,", ""), "depot"));
    assertEquals("invalid_argument", told.code());
    assertTrue(told.sentence(), told.sentence().contains("no row of `orders` was used"));
  }

  @Test
  public void rowsThatCannotBeUsedAreHandedOverWithTheirReason() {
    List<String> reasons = new ArrayList<>();
    String records = RECORDS + order(99, "2024-02-30", "none,", "") + order(1, "2024-03-05", "none,", "");
    Priors.learn(
        Records.text(records), new LearnOptions("depot").reject(row -> reasons.add(row.split(",")[2])));
    assertEquals(List.of("impossible_date", "duplicate"), reasons);
  }

  @Test
  public void falseFromACallbackCancelsAndWhatOneThrowsComesThrough() {
    assertEquals(
        "cancelled",
        assertThrows(
                FaultoddsException.class,
                () -> Priors.learn(Records.text(RECORDS), new LearnOptions("depot").progress(rows -> false)))
            .code());
    IllegalStateException problem = new IllegalStateException("no more");
    assertSame(
        problem,
        assertThrows(
            IllegalStateException.class,
            () ->
                Priors.learn(
                    Records.text(HEADER + order(1, "2024-03-05", "haunted,", "")),
                    new LearnOptions("depot").reject(row -> {
                      throw problem;
                    }))));
  }

  @Test
  public void throughTheCircuitTheAnswerDoesNotDependOnThreads() {
    String opened =
        orders(
            30,
            i ->
                i % 3 == 0
                    ? order(i, "2024-03-05", "seat_leak,failed", "static/section.a=would_not_build")
                    : order(i, "2024-03-05", "none,", "static/section.a=held"));
    Priors.Learned one =
        Priors.learn(Records.text(opened), new LearnOptions("depot").circuit(Documents.LIFT).throughCircuit());
    Priors.Learned two =
        Priors.learn(
            Records.text(opened), new LearnOptions("depot").circuit(Documents.LIFT).throughCircuit().threads(2));
    assertEquals(one, two);
    double through = 1 - (Double) Json.list(seatLeak(one.pack()).get("grades")).get(0);
    double counted = 1 - (Double) Json.list(seatLeak(learned(opened, "depot").pack()).get("grades")).get(0);
    assertTrue(through < 0.75 * counted);
  }

  @Test
  public void mergingIsPoolingAndTheDifferenceSaysOnHowManyJobs() {
    String two = order(1, "2024-03-05", "none,", "") + order(2, "2024-03-05", "none,", "");
    String third = order(3, "2024-03-05", "seat_leak,", "");
    String north = learned(HEADER + two, "north").pack();
    String merged = Priors.merge(List.of(north, learned(HEADER + third, "south").pack()));
    assertEquals(
        seatLeak(learned(HEADER + two + third, "all").pack()).get("grades"), seatLeak(merged).get("grades"));
    Map<String, Object> change =
        Json.object(Json.list(Json.object(Json.parse(Priors.diff(north, merged))).get("changes")).get(0));
    assertEquals(2.0, Json.object(change.get("before")).get("jobs"));
    assertEquals(3.0, Json.object(change.get("after")).get("jobs"));
    assertFalse(Json.list(Json.object(Json.parse(Priors.diff(null, merged))).get("changes")).isEmpty());
    assertThrows(FaultoddsException.class, () -> Priors.merge(List.of(north, north)));
  }

  @Test
  public void aNumberThatCHasNoRoomForIsRefused() {
    assertThrows(IllegalArgumentException.class, () -> new LearnOptions("depot").threads(0));
    assertThrows(IllegalArgumentException.class, () -> new BacktestOptions().threads(-1));
    assertThrows(IllegalArgumentException.class, () -> new BacktestOptions().mostJobs(-1));
  }

  @Test
  public void jobsAreReplayedWithBothPacks() {
    String closed =
        orders(
            16,
            i -> {
              String day = String.format("2024-03-%02d", 2 + i);
              return i % 4 == 0
                  ? order(i, day, "none,", "static/section.a=held")
                  : order(i, day, "seat_leak,failed", "static/section.a=would_not_build");
            });
    List<Long> told = new ArrayList<>();
    Map<String, Object> answer =
        Json.object(
            Json.parse(
                Priors.backtest(Documents.LIFT, Records.text(closed), new BacktestOptions().progress(told::add))));
    assertEquals(16.0, answer.get("jobs"));
    assertEquals(32, told.size());
    String pack = learned(HEADER + order(1, "2024-03-05", "none,", ""), "one").pack();
    String against =
        Priors.backtest(
            Documents.LIFT, Records.text(closed), new BacktestOptions().before(pack).after(pack).threads(2));
    assertEquals("cannot_tell", Json.object(Json.parse(against)).get("verdict"));
    FaultoddsException few =
        assertThrows(
            FaultoddsException.class,
            () -> Priors.backtest(Documents.LIFT, Records.text(closed), new BacktestOptions().mostJobs(4)));
    assertTrue(few.sentence(), few.sentence().contains("10 at least"));
  }
}
