package faultodds;

import com.sun.jna.Callback;
import com.sun.jna.IntegerType;
import com.sun.jna.Memory;
import com.sun.jna.NativeLibrary;
import com.sun.jna.Platform;
import com.sun.jna.Pointer;
import com.sun.jna.Structure;
import com.sun.jna.ptr.DoubleByReference;
import com.sun.jna.ptr.IntByReference;
import com.sun.jna.ptr.PointerByReference;
import java.io.File;
import java.io.IOException;
import java.nio.ByteBuffer;
import java.nio.CharBuffer;
import java.nio.charset.CharacterCodingException;
import java.nio.charset.CodingErrorAction;
import java.nio.charset.StandardCharsets;
import java.util.Arrays;

/** The functions of the C interface that the binding uses, and how text and errors cross. */
final class Native {
  private static final int SOVERSION = 2;

  static {
    com.sun.jna.Native.register(Native.class, library());
  }

  private Native() {}

  /** {@code size_t}. */
  public static final class Size extends IntegerType {
    private static final long serialVersionUID = 1;

    public Size() {
      this(0);
    }

    Size(long value) {
      super(com.sun.jna.Native.SIZE_T_SIZE, value, true);
    }
  }

  /** {@code faultodds_call_options}. */
  @Structure.FieldOrder({"structSize", "cancel"})
  public static final class CallOptions extends Structure {
    public Size structSize = new Size();
    public Pointer cancel;
  }

  /** {@code faultodds_model_options}. */
  @Structure.FieldOrder({
    "structSize", "memoryBudget", "assetClass", "assetClassLength", "cancel", "searchSteps", "setsPerObservation",
    "modes", "observations", "reserved"
  })
  public static final class ModelOptions extends Structure {
    public Size structSize = new Size();
    public long memoryBudget;
    public Pointer assetClass;
    public Size assetClassLength = new Size();
    public Pointer cancel;
    public long searchSteps;
    public int setsPerObservation;
    public int modes;
    public int observations;
    public int reserved;
  }

  /** {@code faultodds_network_options}. */
  @Structure.FieldOrder({"structSize", "memoryBudget", "cancel"})
  public static final class NetworkOptions extends Structure {
    public Size structSize = new Size();
    public long memoryBudget;
    public Pointer cancel;
  }

  /** {@code faultodds_case_summary}. */
  @Structure.FieldOrder({"structSize", "method", "errorBound", "logEvidence", "causeCount", "testCount"})
  public static final class CaseSummary extends Structure {
    public Size structSize = new Size();
    public Pointer method;
    public double errorBound;
    public double logEvidence;
    public int causeCount;
    public int testCount;
  }

  /** {@code faultodds_causes}. */
  @Structure.FieldOrder({
    "structSize", "observation", "shareCount", "componentCount", "byDesign", "elsewhere", "nothing"
  })
  public static final class Causes extends Structure {
    public Size structSize = new Size();
    public int observation;
    public int shareCount;
    public long componentCount;
    public double byDesign;
    public double elsewhere;
    public double nothing;
  }

  /** {@code faultodds_ranked_test}. */
  @Structure.FieldOrder({
    "structSize", "observation", "energised", "informationBits", "causeBits", "minutes", "bitsPerMinute"
  })
  public static final class RankedTest extends Structure {
    public Size structSize = new Size();
    public int observation;
    public int energised;
    public double informationBits;
    public double causeBits;
    public double minutes;
    public double bitsPerMinute;
  }

  /** {@code faultodds_progress}. */
  public interface Progress extends Callback {
    int told(Pointer context, long done);
  }

  /** {@code faultodds_write}. */
  public interface Write extends Callback {
    int given(Pointer context, Pointer text, Size length);
  }

  /** A text among the members of a struct, and its length. */
  @Structure.FieldOrder({"at", "length"})
  public static final class Text extends Structure {
    public Pointer at;
    public Size length = new Size();

    void set(byte[] bytes) {
      at = memory(bytes);
      length = new Size(bytes.length);
    }

    void set(String text, String what) {
      set(bytes(text, what));
    }
  }

  /** {@code faultodds_records}. */
  @Structure.FieldOrder({"structSize", "path", "text"})
  public static final class Records extends Structure {
    public Size structSize = new Size();
    public Text path = new Text();
    public Text text = new Text();
  }

  /** {@code faultodds_learn_options}. */
  @Structure.FieldOrder({
    "structSize", "source", "title", "mapping", "circuit", "judgement", "worthJobs", "noPooling", "throughCircuit",
    "learnOutcomes", "threads", "reject", "rejectContext", "progress", "progressContext", "cancel", "auditOrders",
    "reserved"
  })
  public static final class LearnOptions extends Structure {
    public Size structSize = new Size();
    public Text source = new Text();
    public Text title = new Text();
    public Text mapping = new Text();
    public Text circuit = new Text();
    public Text judgement = new Text();
    public double worthJobs;
    public int noPooling;
    public int throughCircuit;
    public int learnOutcomes;
    public int threads;
    public Write reject;
    public Pointer rejectContext;
    public Progress progress;
    public Pointer progressContext;
    public Pointer cancel;
    public int auditOrders;
    public int reserved;
  }

  /** {@code faultodds_backtest_options}. */
  @Structure.FieldOrder({
    "structSize", "mapping", "before", "after", "assetClass", "worthJobs", "isolated", "mostJobs",
    "threads", "progress", "progressContext", "cancel"
  })
  public static final class BacktestOptions extends Structure {
    public Size structSize = new Size();
    public Text mapping = new Text();
    public Text before = new Text();
    public Text after = new Text();
    public Text assetClass = new Text();
    public double worthJobs;
    public double isolated;
    public long mostJobs;
    public int threads;
    public Progress progress;
    public Pointer progressContext;
    public Pointer cancel;
  }

  static native String faultodds_version();

  static native String faultodds_status_name(int status);

  static native Pointer faultodds_error_message(Pointer error);

  static native Pointer faultodds_error_pointer(Pointer error);

  static native void faultodds_error_free(Pointer error);

  static native void faultodds_free(Pointer text);

  static native int faultodds_cancel_new(PointerByReference cancel, PointerByReference error);

  static native void faultodds_cancel_free(Pointer cancel);

  static native void faultodds_cancel_now(Pointer cancel);

  static native void faultodds_cancel_after_ms(Pointer cancel, long milliseconds);

  static native void faultodds_cancel_reset(Pointer cancel);

  static native int faultodds_assess_json(
      byte[] circuit, Size circuitLength, byte[] theCase, Size caseLength, byte[] priors, Size priorsLength,
      CallOptions options, PointerByReference answer, PointerByReference error);

  static native int faultodds_model_load(
      byte[] circuit, Size circuitLength, byte[] priors, Size priorsLength, ModelOptions options,
      PointerByReference model, PointerByReference error);

  static native void faultodds_model_free(Pointer model);

  static native int faultodds_model_count(Pointer model, int kind);

  static native Pointer faultodds_model_id(Pointer model, int kind, int index);

  static native int faultodds_model_find(
      Pointer model, int kind, byte[] id, Size idLength, IntByReference index, PointerByReference error);

  static native int faultodds_model_outcome_count(Pointer model, int observation);

  static native Pointer faultodds_model_outcome_id(Pointer model, int observation, int outcome);

  static native int faultodds_model_describe_json(
      Pointer model, CallOptions options, PointerByReference document, PointerByReference error);

  static native int faultodds_model_assess_json(
      Pointer model, byte[] theCase, Size caseLength, CallOptions options, PointerByReference answer,
      PointerByReference error);

  static native int faultodds_model_note(
      Pointer model, byte[] theCase, Size caseLength, int format, CallOptions options, PointerByReference note,
      PointerByReference error);

  static native int faultodds_model_plan(
      Pointer model, byte[] theCase, Size caseLength, int format, CallOptions options, PointerByReference plan,
      PointerByReference error);

  static native int faultodds_model_close(
      Pointer model, byte[] theCase, Size caseLength, byte[] closing, Size closingLength, int format,
      CallOptions options, PointerByReference record, PointerByReference error);

  static native int faultodds_case_open(Pointer model, PointerByReference newCase, PointerByReference error);

  static native void faultodds_case_free(Pointer theCase);

  static native int faultodds_case_observe_likelihood(
      Pointer theCase, int observation, double[] likelihood, PointerByReference error);

  static native int faultodds_case_observe_json(
      Pointer theCase, byte[] entry, Size entryLength, CallOptions options, PointerByReference error);

  static native int faultodds_case_retract(Pointer theCase, int observation, PointerByReference error);

  static native int faultodds_case_setup_done(
      Pointer theCase, byte[] step, Size stepLength, PointerByReference error);

  static native int faultodds_case_assess(Pointer theCase, CallOptions options, PointerByReference error);

  static native int faultodds_case_read_summary(Pointer theCase, CaseSummary summary, PointerByReference error);

  static native int faultodds_case_posteriors(
      Pointer theCase, double[] grades, Size capacity, Pointer count, PointerByReference error);

  static native int faultodds_case_causes(Pointer theCase, int rank, Causes causes, PointerByReference error);

  static native int faultodds_case_shares(
      Pointer theCase, int rank, double[] probabilities, int[] ends, Size capacity, int[] components,
      Size componentCapacity, PointerByReference error);

  static native int faultodds_case_test(
      Pointer theCase, int rank, RankedTest test, PointerByReference error);

  static native int faultodds_case_answer_json(
      Pointer theCase, CallOptions options, PointerByReference answer, PointerByReference error);

  static native int faultodds_cases_assess(
      Pointer cases, Size count, int threads, CallOptions options, Pointer statuses, PointerByReference error);

  static native int faultodds_network_load(
      byte[] text, Size textLength, int format, NetworkOptions options, PointerByReference network,
      PointerByReference error);

  static native void faultodds_network_free(Pointer network);

  static native int faultodds_network_variable_count(Pointer network);

  static native Pointer faultodds_network_variable_name(Pointer network, int variable);

  static native int faultodds_network_state_count(Pointer network, int variable);

  static native Pointer faultodds_network_state_name(Pointer network, int variable, int state);

  static native Size faultodds_network_posterior_count(Pointer network);

  static native int faultodds_network_query(
      Pointer network, Pointer evidence, Size count, CallOptions options, double[] posteriors, Size capacity,
      Pointer written, DoubleByReference logEvidence, PointerByReference error);

  static native int faultodds_priors_learn(
      Records orders, Records exposure, LearnOptions options, PointerByReference pack, PointerByReference summary,
      PointerByReference error);

  static native int faultodds_priors_merge(
      Pointer packs, Pointer lengths, Size count, CallOptions options, PointerByReference merged,
      PointerByReference error);

  static native int faultodds_priors_diff_json(
      byte[] before, Size beforeLength, byte[] after, Size afterLength, CallOptions options,
      PointerByReference difference, PointerByReference error);

  static native int faultodds_priors_backtest_json(
      byte[] circuit, Size circuitLength, Records orders, BacktestOptions options, PointerByReference answer,
      PointerByReference error);

  /** A number for C, which would take a negative one for a large one. */
  static long atLeast(String name, long value, long least) {
    if (value >= least) return value;
    throw new IllegalArgumentException(name + " is " + value + "; expected " + least + " or more");
  }

  /** Bytes where the library can read them; {@code null} for none. */
  static Memory memory(byte[] bytes) {
    if (bytes == null || bytes.length == 0) return null;
    Memory copy = new Memory(bytes.length);
    copy.write(0, bytes, 0, bytes.length);
    return copy;
  }

  /** UTF-8 bytes of a text; a lone surrogate is no Unicode and is refused here. */
  static byte[] bytes(String text, String what) {
    try {
      ByteBuffer encoded =
          StandardCharsets.UTF_8
              .newEncoder()
              .onMalformedInput(CodingErrorAction.REPORT)
              .encode(CharBuffer.wrap(text));
      return Arrays.copyOf(encoded.array(), encoded.limit());
    } catch (CharacterCodingException problem) {
      throw new IllegalArgumentException(what + " has a lone surrogate, which is no Unicode text", problem);
    }
  }

  /** Copies a string that the library keeps. */
  static String text(Pointer borrowed) {
    return borrowed == null ? "" : borrowed.getString(0, "UTF-8");
  }

  /** Copies a string that the library gave away, and frees it. */
  static String taken(PointerByReference owned) {
    try {
      return text(owned.getValue());
    } finally {
      faultodds_free(owned.getValue());
    }
  }

  /** Throws what a status other than OK means; frees the library's error. */
  static void check(int status, PointerByReference error) {
    if (status == 0) return;
    Pointer owned = error.getValue();
    try {
      throw new FaultoddsException(
          faultodds_status_name(status), text(faultodds_error_message(owned)),
          text(faultodds_error_pointer(owned)));
    } finally {
      faultodds_error_free(owned);
    }
  }

  // Where the library is: the system property `faultodds.library`, the environment's FAULTODDS_LIBRARY,
  // this jar, the system's loader. The first that applies is used; if it cannot be loaded, that is told.
  private static NativeLibrary library() {
    String named = System.getProperty("faultodds.library", System.getenv("FAULTODDS_LIBRARY"));
    if (named != null && !named.isEmpty()) return NativeLibrary.getInstance(named);
    String name = fileName();
    String inside = "/" + Platform.RESOURCE_PREFIX + "/" + name;
    if (Native.class.getResource(inside) == null) return NativeLibrary.getInstance(name);
    try {
      File extracted = com.sun.jna.Native.extractFromResourcePath(inside, Native.class.getClassLoader());
      return NativeLibrary.getInstance(extracted.getAbsolutePath());
    } catch (IOException problem) {
      throw new UnsatisfiedLinkError("could not take " + inside + " out of the jar: " + problem.getMessage());
    }
  }

  private static String fileName() {
    if (Platform.isWindows()) return "faultodds-" + SOVERSION + ".dll";
    if (Platform.isMac()) return "libfaultodds." + SOVERSION + ".dylib";
    return "libfaultodds.so." + SOVERSION;
  }
}
