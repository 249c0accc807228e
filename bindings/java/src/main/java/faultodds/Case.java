package faultodds;

import com.sun.jna.Memory;
import com.sun.jna.Pointer;
import com.sun.jna.ptr.PointerByReference;
import java.lang.ref.Reference;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.OptionalDouble;

/**
 * The evidence of one work order, made by {@link Model#openCase()}. Threads that share a case take turns.
 * After every change call {@link #assess()} before asking for results. After {@link #close()} every method
 * throws {@link IllegalStateException}.
 */
public final class Case implements AutoCloseable {
  private final Handle handle;
  private final List<String> modes;
  private final List<String> observations;
  private final List<String> components;

  Case(Pointer opened, List<String> modes, List<String> observations, List<String> components) {
    this.modes = modes;
    this.observations = observations;
    this.components = components;
    this.handle = new Handle(this, opened, Declarations::faultodds_case_free);
  }

  /**
   * Adds an outcome. Repeating an observation adds to what is known of it.
   *
   * @param observation id
   * @param outcome id
   * @throws FaultoddsException if the circuit has no such observation or outcome
   */
  public void observe(String observation, String outcome) {
    observeEntry("{\"observation\":" + Json.quote(observation) + ",\"outcome\":" + Json.quote(outcome) + "}");
  }

  /**
   * Adds a likelihood over the grades sound, worn, failed, of an instrument of the caller's own.
   *
   * @param observation id
   * @param sound a finite number of 0 or more
   * @param worn likewise
   * @param failed likewise; not all three may be 0
   * @throws FaultoddsException if one of them is not
   */
  public void observeLikelihood(String observation, double sound, double worn, double failed) {
    int index = index(observation);
    double[] likelihood = {sound, worn, failed};
    call((theCase, error) -> Declarations.faultodds_case_observe_likelihood(theCase, index, likelihood, error));
  }

  /**
   * Adds one entry of a case document's {@code observations}: an outcome, a reading, a repair.
   *
   * @param entry JSON text such as {@code {"observation":"static/valve.a","reading":{"leak_rate":"40 mL/min"}}}
   * @throws FaultoddsException if it is refused
   */
  public void observeEntry(String entry) {
    byte[] text = Native.bytes(entry, "entry");
    call((theCase, error) ->
        Declarations.faultodds_case_observe_json(theCase, text, new Native.Size(text.length), null, error));
  }

  /**
   * Says that components were replaced by new ones.
   *
   * @param components ids
   * @throws FaultoddsException if the circuit has no such component
   */
  public void repaired(String... components) {
    List<String> quoted = new ArrayList<>();
    for (String component : components) quoted.add(Json.quote(component));
    observeEntry("{\"repaired\":[" + String.join(",", quoted) + "]}");
  }

  /**
   * Takes back all that was said of an observation; nothing happens if nothing was.
   *
   * @param observation id
   * @throws FaultoddsException if the circuit has no such observation
   */
  public void retract(String observation) {
    int index = index(observation);
    call((theCase, error) -> Declarations.faultodds_case_retract(theCase, index, error));
  }

  /**
   * Says that a setup step is done and costs nothing more.
   *
   * @param step id of a step from a test's setup
   * @throws FaultoddsException if the circuit has no such step
   */
  public void setupDone(String step) {
    byte[] text = Native.bytes(step, "step");
    call((theCase, error) ->
        Declarations.faultodds_case_setup_done(theCase, text, new Native.Size(text.length), error));
  }

  /**
   * Computes what the methods below give, from what the case now holds.
   *
   * @throws FaultoddsException with {@code conflicting_evidence} if it cannot all be true
   */
  public void assess() {
    assess(null);
  }

  /**
   * Computes what the methods below give, from what the case now holds, which it keeps if the call is ended.
   *
   * @param cancel what ends the call; {@code null} for nothing
   * @throws FaultoddsException with {@code conflicting_evidence} if it cannot all be true, or {@code cancelled}
   */
  public void assess(Cancel cancel) {
    call(cancel, Declarations::faultodds_case_assess);
  }

  /**
   * Natural logarithm of the probability (density, for readings) of the evidence.
   *
   * @return the logarithm
   */
  public double logEvidence() {
    return summary().logEvidence;
  }

  /**
   * The most by which a number of the answer can be wrong; 0 unless the model's memory budget was too small
   * for an exact one.
   *
   * @return the bound
   */
  public double errorBound() {
    return summary().errorBound;
  }

  private Declarations.CaseSummary summary() {
    Declarations.CaseSummary summary = new Declarations.CaseSummary();
    summary.structSize = new Native.Size(summary.size());
    call((theCase, error) -> Declarations.faultodds_case_read_summary(theCase, summary, error));
    return summary;
  }

  /**
   * P(sound), P(worn), P(failed) of every failure mode.
   *
   * @return three numbers per mode, in the order of {@link Model#modes()}
   */
  public Map<String, double[]> posteriors() {
    double[] room = new double[3 * modes.size()];
    Memory count = new Memory(com.sun.jna.Native.SIZE_T_SIZE);
    call((theCase, error) ->
        Declarations.faultodds_case_posteriors(theCase, room, new Native.Size(room.length), count, error));
    Map<String, double[]> grades = new LinkedHashMap<>();
    for (int mode = 0; mode < modes.size(); ++mode) {
      grades.put(modes.get(mode), new double[] {room[3 * mode], room[3 * mode + 1], room[3 * mode + 2]});
    }
    return grades;
  }

  /**
   * What is probably behind each abnormal symptom.
   *
   * @return the causes of each, the complaint first; none where nothing abnormal was seen
   */
  public synchronized List<Assessment.Causes> causes() {
    int count = summary().causeCount;
    List<Assessment.Causes> every = new ArrayList<>();
    for (int rank = 0; rank < count; ++rank) every.add(causes(rank));
    return List.copyOf(every);
  }

  private Assessment.Causes causes(int rank) {
    Declarations.Causes of = new Declarations.Causes();
    of.structSize = new Native.Size(of.size());
    call((theCase, error) -> Declarations.faultodds_case_causes(theCase, rank, of, error));
    double[] probabilities = new double[of.shareCount];
    int[] ends = new int[of.shareCount];
    int[] room = new int[(int) of.componentCount];
    call((theCase, error) ->
        Declarations.faultodds_case_shares(
            theCase, rank, probabilities, ends, new Native.Size(ends.length), room, new Native.Size(room.length),
            error));
    List<Assessment.Share> shares = new ArrayList<>();
    int at = 0;
    for (int share = 0; share < ends.length; ++share) {
      List<String> together = new ArrayList<>();
      while (at < ends[share]) together.add(components.get(room[at++]));
      shares.add(new Assessment.Share(List.copyOf(together), probabilities[share]));
    }
    return new Assessment.Causes(
        observations.get(of.observation), List.copyOf(shares), of.byDesign, of.elsewhere, of.nothing, OptionalDouble.empty());
  }

  /**
   * The ranking, best first by what each test tells; the answer puts the test of its advice first.
   *
   * @return one line per test
   */
  public synchronized List<RankedTest> tests() {
    int count = summary().testCount;
    List<RankedTest> ranking = new ArrayList<>();
    Declarations.RankedTest test = new Declarations.RankedTest();
    test.structSize = new Native.Size(test.size());
    for (int rank = 0; rank < count; ++rank) {
      int line = rank;
      call((theCase, error) -> Declarations.faultodds_case_test(theCase, line, test, error));
      ranking.add(
          new RankedTest(
              observations.get(test.observation), test.energised != 0, test.informationBits, test.causeBits,
              test.minutes, test.bitsPerMinute));
    }
    return List.copyOf(ranking);
  }

  /**
   * The whole assessment, with the cautions of every test.
   *
   * @return the assessment
   */
  public Assessment answer() {
    return answer(null);
  }

  /**
   * The whole assessment, with the cautions of every test.
   *
   * @param cancel what ends the call; {@code null} for nothing
   * @return the assessment
   * @throws FaultoddsException {@code cancelled}
   */
  public Assessment answer(Cancel cancel) {
    PointerByReference answer = new PointerByReference();
    call(cancel, (theCase, options, error) ->
        Declarations.faultodds_case_answer_json(theCase, options, answer, error));
    return Assessment.read(Native.taken(answer));
  }

  /**
   * Assesses cases of one model at once, as {@link #assess()} does each but faster: those with evidence on the
   * same observations are computed side by side. No case may occur twice.
   *
   * @param cases the cases, which no other thread uses meanwhile
   * @param threads how many threads share the work, 1 or more
   * @throws FaultoddsException for the first that cannot be assessed, with a pointer that begins with {@code
   *     /cases/} and its index; the others are assessed all the same
   */
  public static void assessAll(List<Case> cases, int threads) {
    assessAll(cases, threads, null);
  }

  /**
   * The same, with what ends the call: what was assessed by then stays so.
   *
   * @param cases the cases, which no other thread uses meanwhile
   * @param threads how many threads share the work, 1 or more
   * @param cancel what ends the call; {@code null} for nothing
   * @throws FaultoddsException as {@link #assessAll(List, int)}, or {@code cancelled}
   */
  public static void assessAll(List<Case> cases, int threads, Cancel cancel) {
    Native.atLeast("threads", threads, 1);
    if (cases.isEmpty()) return;
    Memory handles = new Memory((long) com.sun.jna.Native.POINTER_SIZE * cases.size());
    for (int i = 0; i < cases.size(); ++i) {
      handles.setPointer((long) com.sun.jna.Native.POINTER_SIZE * i, cases.get(i).handle.get("case"));
    }
    PointerByReference error = new PointerByReference();
    try {
      int status =
          Cancel.until(
              cancel,
              options ->
                  Declarations.faultodds_cases_assess(
                      handles, new Native.Size(cases.size()), threads, options, null, error));
      Native.check(status, error);
    } finally {
      Reference.reachabilityFence(cases);
    }
  }

  /** Frees the case. May be called again. */
  @Override
  public synchronized void close() {
    handle.free();
  }

  private interface Call {
    int on(Pointer theCase, PointerByReference error);
  }

  private interface EndedCall {
    int on(Pointer theCase, Declarations.CallOptions options, PointerByReference error);
  }

  private void call(Cancel cancel, EndedCall call) {
    Cancel.until(
        cancel,
        options -> {
          call((theCase, error) -> call.on(theCase, options, error));
          return null;
        });
  }

  private synchronized void call(Call call) {
    PointerByReference error = new PointerByReference();
    try {
      Native.check(call.on(handle.get("case"), error), error);
    } finally {
      Reference.reachabilityFence(this);
    }
  }

  private int index(String observation) {
    int index = observations.indexOf(observation);
    if (index >= 0) return index;
    throw new FaultoddsException("invalid_argument", "unknown observation `" + observation + "`", "");
  }
}
