package faultodds;

import com.sun.jna.Memory;
import com.sun.jna.Pointer;
import com.sun.jna.ptr.PointerByReference;
import java.lang.ref.Reference;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.function.LongPredicate;
import java.util.function.Predicate;

/** Prior packs from closed work orders: learn, merge, compare, backtest. Documents are JSON texts. */
public final class Priors {
  private Priors() {}

  /** CSV: a text, or a file, which is read at constant memory. */
  public static final class Records {
    private final byte[] bytes;
    private final boolean isFile;

    private Records(byte[] bytes, boolean isFile) {
      this.bytes = bytes;
      this.isFile = isFile;
    }

    /**
     * Records in memory.
     *
     * @param text CSV
     * @return the records
     */
    public static Records text(String text) {
      return new Records(Native.bytes(text, "records"), false);
    }

    /**
     * Records in a file.
     *
     * @param path of the file
     * @return the records
     */
    public static Records file(Path path) {
      return new Records(Native.bytes(path.toString(), "path"), true);
    }

    private Declarations.Records line() {
      Declarations.Records line = new Declarations.Records();
      line.structSize = new Native.Size(line.size());
      Native.Text given = isFile ? line.path : line.text;
      given.set(bytes);
      if (bytes.length == 0) given.at = new Memory(1); // no text is a text all the same
      return line;
    }
  }

  /** How to learn. Each method returns this. */
  public static final class LearnOptions {
    private final Declarations.LearnOptions options = new Declarations.LearnOptions();
    private Records exposure;
    private Predicate<String> reject;
    private LongPredicate progress;
    private Cancel cancel;

    /**
     * Counts, with the shipped pack as judgement.
     *
     * @param source id of these records, which merging counts once
     */
    public LearnOptions(String source) {
      options.structSize = new Native.Size(options.size());
      options.source.set(source, "source");
      options.threads = 1;
    }

    /**
     * Machines in service and their hours, which give rates.
     *
     * @param records CSV
     * @return this
     */
    public LearnOptions exposure(Records records) {
      exposure = records;
      return this;
    }

    /**
     * Title of the pack.
     *
     * @param text the title
     * @return this
     */
    public LearnOptions title(String text) {
      options.title.set(text, "title");
      return this;
    }

    /**
     * Where the owner's file differs.
     *
     * @param document {@code "faultodds-records/1"}
     * @return this
     */
    public LearnOptions mapping(String document) {
      options.mapping.set(document, "mapping");
      return this;
    }

    /**
     * Whose own component types are known too.
     *
     * @param document a circuit document
     * @return this
     */
    public LearnOptions circuit(String document) {
      options.circuit.set(document, "circuit");
      return this;
    }

    /**
     * The pack to start from, in place of the shipped one.
     *
     * @param pack a prior pack
     * @return this
     */
    public LearnOptions judgement(String pack) {
      options.judgement.set(pack, "judgement");
      return this;
    }

    /**
     * What a pack without records is worth.
     *
     * @param jobs 20 if it is not said
     * @return this
     */
    public LearnOptions worthJobs(double jobs) {
      options.worthJobs = jobs;
      return this;
    }

    /**
     * Every asset class stands by itself.
     *
     * @return this
     */
    public LearnOptions withoutPooling() {
      options.noPooling = 1;
      return this;
    }

    /**
     * By expectation-maximisation through the circuit: what was tested counts, and that records exist only because
     * of a complaint is corrected for. Such a pack cannot be merged.
     *
     * @return this
     */
    public LearnOptions throughCircuit() {
      options.throughCircuit = 1;
      return this;
    }

    /**
     * Outcome statistics too.
     *
     * @return this
     */
    public LearnOptions withOutcomes() {
      options.learnOutcomes = 1;
      return this;
    }

    /**
     * Has the summary say in {@code audit} which work orders say something of each failure mode.
     *
     * @param orders how many it names for each, the latest
     * @return this
     */
    public LearnOptions audit(int orders) {
      options.auditOrders = (int) Native.atLeast("orders", orders, 0);
      return this;
    }

    /**
     * How many threads share the work through the circuit; the answer does not depend on it.
     *
     * @param count 1 or more
     * @return this
     */
    public LearnOptions threads(int count) {
      options.threads = (int) Native.atLeast("threads", count, 1);
      return this;
    }

    /**
     * Who is given each row that is not used, as a row of CSV.
     *
     * @param rows false, or an exception, ends the call
     * @return this
     */
    public LearnOptions reject(Predicate<String> rows) {
      reject = rows;
      return this;
    }

    /**
     * Who is told how many rows were read.
     *
     * @param rows false, or an exception, ends the call
     * @return this
     */
    public LearnOptions progress(LongPredicate rows) {
      progress = rows;
      return this;
    }

    /**
     * What ends the call.
     *
     * @param what given to this call, and to others at will
     * @return this
     */
    public LearnOptions cancel(Cancel what) {
      cancel = what;
      return this;
    }
  }

  /** How to backtest. Each method returns this. */
  public static final class BacktestOptions {
    private final Declarations.BacktestOptions options = new Declarations.BacktestOptions();
    private LongPredicate progress;
    private Cancel cancel;

    /** The shipped pack against one that is learned through the circuit as the replay goes. */
    public BacktestOptions() {
      options.structSize = new Native.Size(options.size());
      options.threads = 1;
    }

    /**
     * The present pack.
     *
     * @param pack in place of the shipped one
     * @return this
     */
    public BacktestOptions before(String pack) {
      options.before.set(pack, "before");
      return this;
    }

    /**
     * The pack offered.
     *
     * @param pack in place of one that is learned
     * @return this
     */
    public BacktestOptions after(String pack) {
      options.after.set(pack, "after");
      return this;
    }

    /**
     * Where the owner's file differs.
     *
     * @param document {@code "faultodds-records/1"}
     * @return this
     */
    public BacktestOptions mapping(String document) {
      options.mapping.set(document, "mapping");
      return this;
    }

    /**
     * Class of the machines.
     *
     * @param name which entries of the packs to use
     * @return this
     */
    public BacktestOptions assetClass(String name) {
      options.assetClass.set(name, "assetClass");
      return this;
    }

    /**
     * What a pack without records is worth.
     *
     * @param jobs 20 if it is not said
     * @return this
     */
    public BacktestOptions worthJobs(double jobs) {
      options.worthJobs = jobs;
      return this;
    }

    /**
     * Probability at which a cause counts as isolated.
     *
     * @param probability 0.9 if it is not said
     * @return this
     */
    public BacktestOptions isolated(double probability) {
      options.isolated = probability;
      return this;
    }

    /**
     * How many jobs are replayed, evenly spaced in time.
     *
     * @param jobs all if it is not said
     * @return this
     */
    public BacktestOptions mostJobs(long jobs) {
      options.mostJobs = Native.atLeast("mostJobs", jobs, 0);
      return this;
    }

    /**
     * How many threads share the work; the answer does not depend on it.
     *
     * @param count 1 or more
     * @return this
     */
    public BacktestOptions threads(int count) {
      options.threads = (int) Native.atLeast("threads", count, 1);
      return this;
    }

    /**
     * Who is told how many jobs were replayed.
     *
     * @param jobs false, or an exception, ends the call
     * @return this
     */
    public BacktestOptions progress(LongPredicate jobs) {
      progress = jobs;
      return this;
    }

    /**
     * What ends the call.
     *
     * @param what given to this call, and to others at will
     * @return this
     */
    public BacktestOptions cancel(Cancel what) {
      cancel = what;
      return this;
    }
  }

  /**
   * What was learned.
   *
   * @param pack a prior pack
   * @param summary {@code "faultodds-records-summary/1"}, which accounts for every row
   */
  public record Learned(String pack, String summary) {}

  /**
   * Learns a pack from closed work orders.
   *
   * @param orders CSV
   * @param how the options
   * @return the pack
   * @throws FaultoddsException if a document is refused, a file cannot be read, or {@code cancelled}
   */
  public static Learned learn(Records orders, LearnOptions how) {
    Callbacks callbacks = new Callbacks(how.progress, how.reject);
    how.options.progress = callbacks.progress;
    how.options.reject = callbacks.write;
    Declarations.Records given = orders.line();
    Declarations.Records exposure = how.exposure == null ? null : how.exposure.line();
    PointerByReference pack = new PointerByReference();
    PointerByReference summary = new PointerByReference();
    callbacks.call(
        how.cancel,
        (until, error) -> {
          how.options.cancel = until;
          return Declarations.faultodds_priors_learn(given, exposure, how.options, pack, summary, error);
        });
    return new Learned(Native.taken(pack), Native.taken(summary));
  }

  /**
   * One pack from those of several depots: what learning from all their records at once gives.
   *
   * @param packs two or more
   * @return the pack
   * @throws FaultoddsException if one is refused, or a source is in two of them
   */
  public static String merge(List<String> packs) {
    int pointer = com.sun.jna.Native.POINTER_SIZE;
    int size = com.sun.jna.Native.SIZE_T_SIZE;
    Memory addresses = new Memory((long) pointer * Math.max(1, packs.size()));
    Memory lengths = new Memory((long) size * Math.max(1, packs.size()));
    List<Memory> kept = new ArrayList<>();
    for (int i = 0; i < packs.size(); ++i) {
      byte[] text = Native.bytes(packs.get(i), "pack");
      Memory memory = Native.memory(text);
      kept.add(memory);
      addresses.setPointer((long) pointer * i, memory);
      if (size == 8) lengths.setLong((long) size * i, text.length);
      else lengths.setInt((long) size * i, text.length);
    }
    PointerByReference merged = new PointerByReference();
    PointerByReference error = new PointerByReference();
    int status =
        Declarations.faultodds_priors_merge(addresses, lengths, new Native.Size(packs.size()), null, merged, error);
    Reference.reachabilityFence(kept);
    Native.check(status, error);
    return Native.taken(merged);
  }

  /**
   * What changed, on how many jobs, how sure.
   *
   * @param before a prior pack; {@code null} for the shipped one
   * @param after a prior pack
   * @return {@code "faultodds-priors-diff/1"}, the largest change first
   * @throws FaultoddsException if one is refused
   */
  public static String diff(String before, String after) {
    byte[] old = before == null ? null : Native.bytes(before, "before");
    byte[] now = Native.bytes(after, "after");
    PointerByReference difference = new PointerByReference();
    PointerByReference error = new PointerByReference();
    Native.check(
        Declarations.faultodds_priors_diff_json(
            old, new Native.Size(old == null ? 0 : old.length), now, new Native.Size(now.length), null, difference,
            error),
        error);
    return Native.taken(difference);
  }

  /**
   * Replays closed orders of one circuit in time order with two packs, without looking ahead.
   *
   * @param circuit a circuit document
   * @param orders CSV
   * @param how the options
   * @return {@code "faultodds-backtest/1"}
   * @throws FaultoddsException if a document is refused, fewer than ten jobs can be used, or {@code cancelled}
   */
  public static String backtest(String circuit, Records orders, BacktestOptions how) {
    byte[] text = Native.bytes(circuit, "circuit");
    Callbacks callbacks = new Callbacks(how.progress, null);
    how.options.progress = callbacks.progress;
    Declarations.Records given = orders.line();
    PointerByReference answer = new PointerByReference();
    callbacks.call(
        how.cancel,
        (until, error) -> {
          how.options.cancel = until;
          return Declarations.faultodds_priors_backtest_json(
              text, new Native.Size(text.length), given, how.options, answer, error);
        });
    return Native.taken(answer);
  }

  /** Callbacks as C has them. What one of them throws ends the call, which then throws it. */
  private static final class Callbacks {
    final Declarations.Progress progress;
    final Declarations.Write write;
    private Throwable thrown;

    interface Call {
      int with(Pointer cancel, PointerByReference error);
    }

    interface Told {
      boolean goOn();
    }

    Callbacks(LongPredicate progress, Predicate<String> rows) {
      this.progress = progress == null ? null : (context, done) -> kept(() -> progress.test(done));
      this.write = rows == null ? null : (context, text, length) -> kept(() -> rows.test(read(text, length)));
    }

    private static String read(Pointer text, Native.Size length) {
      return new String(text.getByteArray(0, length.intValue()), StandardCharsets.UTF_8);
    }

    private int kept(Told told) {
      try {
        return told.goOn() ? 0 : 1;
      } catch (Throwable problem) {
        thrown = problem;
        return 1;
      }
    }

    void call(Cancel cancel, Call call) {
      PointerByReference error = new PointerByReference();
      int status = Cancel.during(cancel, until -> call.with(until, error));
      Reference.reachabilityFence(this);
      if (thrown != null) {
        Declarations.faultodds_error_free(error.getValue());
        if (thrown instanceof RuntimeException problem) throw problem;
        if (thrown instanceof Error problem) throw problem;
        throw new IllegalStateException(thrown);
      }
      Native.check(status, error);
    }
  }
}
