package faultodds;

import com.sun.jna.Callback;
import com.sun.jna.Pointer;
import com.sun.jna.Structure;
import com.sun.jna.ptr.DoubleByReference;
import com.sun.jna.ptr.IntByReference;
import com.sun.jna.ptr.PointerByReference;

/** What the binding declares of the C interface. Written by bindings/declare.py; not to be edited. */
final class Declarations {
  static {
    com.sun.jna.Native.register(Declarations.class, Library.find());
  }

  private Declarations() {}

  static final int OK = 0;
  static final int INVALID_ARGUMENT = 1;
  static final int INVALID_JSON = 2;
  static final int INVALID_DOCUMENT = 3;
  static final int INVALID_CIRCUIT = 4;
  static final int INVALID_CASE = 5;
  static final int INVALID_PRIORS = 6;
  static final int CONFLICTING_EVIDENCE = 7;
  static final int LIMIT_EXCEEDED = 8;
  static final int OUT_OF_MEMORY = 9;
  static final int CANCELLED = 10;
  static final int INTERNAL = 11;
  static final int MODE = 1;
  static final int OBSERVATION = 2;
  static final int COMPONENT = 3;
  static final int NOTE_TEXT = 1;
  static final int NOTE_HTML = 2;
  static final int PLAN_JSON = 1;
  static final int PLAN_HTML = 2;
  static final int RECORD_JSON = 1;
  static final int RECORD_CSV = 2;
  static final int RECORD_CSV_HEADED = 3;
  static final int BIF = 1;
  static final int XMLBIF = 2;

  /** {@code faultodds_progress}. */
  public interface Progress extends Callback {
    int call(Pointer context, long done);
  }

  /** {@code faultodds_write}. */
  public interface Write extends Callback {
    int call(Pointer context, Pointer text, Native.Size textLength);
  }

  /** {@code faultodds_call_options}. */
  @Structure.FieldOrder({"structSize", "cancel"})
  public static final class CallOptions extends Structure {
    public Native.Size structSize = new Native.Size();
    public Pointer cancel;
  }

  /** {@code faultodds_model_options}. */
  @Structure.FieldOrder({
    "structSize", "memoryBudget", "assetClass", "cancel", "searchSteps", "setsPerObservation", "modes",
    "observations", "reserved"})
  public static final class ModelOptions extends Structure {
    public Native.Size structSize = new Native.Size();
    public long memoryBudget;
    public Native.Text assetClass = new Native.Text();
    public Pointer cancel;
    public long searchSteps;
    public int setsPerObservation;
    public int modes;
    public int observations;
    public int reserved;
  }

  /** {@code faultodds_model_counters}. */
  @Structure.FieldOrder({
    "structSize", "plansMade", "plansFromCache", "plansEvicted", "plansKept", "planBytes", "bytes",
    "memoryBudget", "byTree", "byTables", "byProducts", "byCarefulProducts", "byJunctionTree", "byBounded"})
  public static final class ModelCounters extends Structure {
    public Native.Size structSize = new Native.Size();
    public long plansMade;
    public long plansFromCache;
    public long plansEvicted;
    public long plansKept;
    public long planBytes;
    public long bytes;
    public long memoryBudget;
    public long byTree;
    public long byTables;
    public long byProducts;
    public long byCarefulProducts;
    public long byJunctionTree;
    public long byBounded;
  }

  /** {@code faultodds_ranked_test}. */
  @Structure.FieldOrder({
    "structSize", "observation", "energised", "informationBits", "causeBits", "minutes", "bitsPerMinute"})
  public static final class RankedTest extends Structure {
    public Native.Size structSize = new Native.Size();
    public int observation;
    public int energised;
    public double informationBits;
    public double causeBits;
    public double minutes;
    public double bitsPerMinute;
  }

  /** {@code faultodds_case_summary}. */
  @Structure.FieldOrder({"structSize", "method", "errorBound", "logEvidence", "causeCount", "testCount"})
  public static final class CaseSummary extends Structure {
    public Native.Size structSize = new Native.Size();
    public Pointer method;
    public double errorBound;
    public double logEvidence;
    public int causeCount;
    public int testCount;
  }

  /** {@code faultodds_causes}. */
  @Structure.FieldOrder({
    "structSize", "observation", "shareCount", "componentCount", "byDesign", "elsewhere", "nothing"})
  public static final class Causes extends Structure {
    public Native.Size structSize = new Native.Size();
    public int observation;
    public int shareCount;
    public long componentCount;
    public double byDesign;
    public double elsewhere;
    public double nothing;
  }

  /** {@code faultodds_records}. */
  @Structure.FieldOrder({"structSize", "path", "text"})
  public static final class Records extends Structure {
    public Native.Size structSize = new Native.Size();
    public Native.Text path = new Native.Text();
    public Native.Text text = new Native.Text();
  }

  /** {@code faultodds_learn_options}. */
  @Structure.FieldOrder({
    "structSize", "source", "title", "mapping", "circuit", "judgement", "worthJobs", "noPooling",
    "throughCircuit", "learnOutcomes", "threads", "reject", "rejectContext", "progress", "progressContext",
    "cancel", "auditOrders", "countDistinct"})
  public static final class LearnOptions extends Structure {
    public Native.Size structSize = new Native.Size();
    public Native.Text source = new Native.Text();
    public Native.Text title = new Native.Text();
    public Native.Text mapping = new Native.Text();
    public Native.Text circuit = new Native.Text();
    public Native.Text judgement = new Native.Text();
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
    public int countDistinct;
  }

  /** {@code faultodds_backtest_options}. */
  @Structure.FieldOrder({
    "structSize", "mapping", "before", "after", "assetClass", "worthJobs", "isolated", "mostJobs", "threads",
    "progress", "progressContext", "cancel"})
  public static final class BacktestOptions extends Structure {
    public Native.Size structSize = new Native.Size();
    public Native.Text mapping = new Native.Text();
    public Native.Text before = new Native.Text();
    public Native.Text after = new Native.Text();
    public Native.Text assetClass = new Native.Text();
    public double worthJobs;
    public double isolated;
    public long mostJobs;
    public int threads;
    public Progress progress;
    public Pointer progressContext;
    public Pointer cancel;
  }

  /** {@code faultodds_network_options}. */
  @Structure.FieldOrder({"structSize", "memoryBudget", "cancel"})
  public static final class NetworkOptions extends Structure {
    public Native.Size structSize = new Native.Size();
    public long memoryBudget;
    public Pointer cancel;
  }

  /** {@code faultodds_network_statistics}. */
  @Structure.FieldOrder({
    "structSize", "cliques", "entries", "denseEntries", "largestClique", "bytes", "queryBytes"})
  public static final class NetworkStatistics extends Structure {
    public Native.Size structSize = new Native.Size();
    public long cliques;
    public long entries;
    public double denseEntries;
    public double largestClique;
    public long bytes;
    public long queryBytes;
  }

  /** {@code faultodds_network_evidence}. */
  @Structure.FieldOrder({"structSize", "variable", "state", "likelihood", "likelihoodCount"})
  public static final class NetworkEvidence extends Structure {
    public Native.Size structSize = new Native.Size();
    public int variable;
    public int state;
    public Pointer likelihood;
    public Native.Size likelihoodCount = new Native.Size();
  }

  static native Pointer faultodds_version();

  static native Pointer faultodds_status_name(int status);

  static native int faultodds_error_code(Pointer error);

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
      byte[] circuit, Native.Size circuitLength, byte[] caseDocument, Native.Size caseLength, byte[] priors,
      Native.Size priorsLength, CallOptions options, PointerByReference answer, PointerByReference error);

  static native int faultodds_model_load(
      byte[] circuit, Native.Size circuitLength, byte[] priors, Native.Size priorsLength, ModelOptions options,
      PointerByReference model, PointerByReference error);

  static native void faultodds_model_free(Pointer model);

  static native int faultodds_model_count(Pointer model, int kind);

  static native Pointer faultodds_model_id(Pointer model, int kind, int index);

  static native int faultodds_model_find(
      Pointer model, int kind, byte[] id, Native.Size idLength, IntByReference index, PointerByReference error);

  static native int faultodds_model_outcome_count(Pointer model, int observation);

  static native Pointer faultodds_model_outcome_id(Pointer model, int observation, int outcome);

  static native int faultodds_model_read_counters(
      Pointer model, ModelCounters counters, PointerByReference error);

  static native int faultodds_model_describe_json(
      Pointer model, CallOptions options, PointerByReference document, PointerByReference error);

  static native int faultodds_model_describe_screen_json(
      Pointer model, CallOptions options, PointerByReference document, PointerByReference error);

  static native int faultodds_model_assess_json(
      Pointer model, byte[] caseDocument, Native.Size caseLength, CallOptions options,
      PointerByReference answer, PointerByReference error);

  static native int faultodds_model_propose_json(
      Pointer model, byte[] text, Native.Size textLength, byte[] language, Native.Size languageLength,
      CallOptions options, PointerByReference proposals, PointerByReference error);

  static native int faultodds_model_draw_svg(
      Pointer model, byte[] caseDocument, Native.Size caseLength, int width, byte[] language,
      Native.Size languageLength, CallOptions options, PointerByReference svg, PointerByReference error);

  static native int faultodds_model_note(
      Pointer model, byte[] caseDocument, Native.Size caseLength, int format, CallOptions options,
      PointerByReference note, PointerByReference error);

  static native int faultodds_model_plan(
      Pointer model, byte[] caseDocument, Native.Size caseLength, int format, CallOptions options,
      PointerByReference plan, PointerByReference error);

  static native int faultodds_model_close(
      Pointer model, byte[] caseDocument, Native.Size caseLength, byte[] closing, Native.Size closingLength,
      int format, CallOptions options, PointerByReference record, PointerByReference error);

  static native int faultodds_case_open(Pointer model, PointerByReference newCase, PointerByReference error);

  static native void faultodds_case_free(Pointer theCase);

  static native int faultodds_case_observe_outcome(
      Pointer theCase, int observation, int outcome, PointerByReference error);

  static native int faultodds_case_observe_likelihood(
      Pointer theCase, int observation, double[] likelihood, PointerByReference error);

  static native int faultodds_case_observe_json(
      Pointer theCase, byte[] entry, Native.Size entryLength, CallOptions options, PointerByReference error);

  static native int faultodds_case_retract(Pointer theCase, int observation, PointerByReference error);

  static native int faultodds_case_setup_done(
      Pointer theCase, byte[] step, Native.Size stepLength, PointerByReference error);

  static native int faultodds_case_assess(Pointer theCase, CallOptions options, PointerByReference error);

  static native int faultodds_cases_assess(
      Pointer cases, Native.Size count, int threads, CallOptions options, int[] statuses,
      PointerByReference error);

  static native int faultodds_case_read_summary(Pointer theCase, CaseSummary summary, PointerByReference error);

  static native int faultodds_case_posteriors(
      Pointer theCase, double[] grades, Native.Size capacity, Pointer count, PointerByReference error);

  static native int faultodds_case_causes(Pointer theCase, int rank, Causes causes, PointerByReference error);

  static native int faultodds_case_shares(
      Pointer theCase, int rank, double[] probabilities, int[] ends, Native.Size capacity, int[] components,
      Native.Size componentCapacity, PointerByReference error);

  static native int faultodds_case_test(Pointer theCase, int rank, RankedTest test, PointerByReference error);

  static native int faultodds_case_answer_json(
      Pointer theCase, CallOptions options, PointerByReference answer, PointerByReference error);

  static native int faultodds_priors_learn(
      Records orders, Records exposure, LearnOptions options, PointerByReference pack,
      PointerByReference summary, PointerByReference error);

  static native int faultodds_priors_merge(
      Pointer packs, Pointer lengths, Native.Size count, CallOptions options, PointerByReference merged,
      PointerByReference error);

  static native int faultodds_priors_diff_json(
      byte[] before, Native.Size beforeLength, byte[] after, Native.Size afterLength, CallOptions options,
      PointerByReference difference, PointerByReference error);

  static native int faultodds_priors_backtest_json(
      byte[] circuit, Native.Size circuitLength, Records orders, BacktestOptions options,
      PointerByReference answer, PointerByReference error);

  static native int faultodds_circuit_check_json(
      byte[] circuit, Native.Size circuitLength, CallOptions options, PointerByReference findings,
      PointerByReference error);

  static native int faultodds_circuit_explain_json(
      byte[] circuit, Native.Size circuitLength, byte[] observation, Native.Size observationLength, byte[] size,
      Native.Size sizeLength, CallOptions options, PointerByReference explanation, PointerByReference error);

  static native int faultodds_circuit_diff_json(
      byte[] before, Native.Size beforeLength, byte[] after, Native.Size afterLength, byte[] theCase,
      Native.Size caseLength, CallOptions options, PointerByReference difference, PointerByReference error);

  static native int faultodds_circuit_new_json(
      byte[] parts, Native.Size partsLength, CallOptions options, PointerByReference circuit,
      PointerByReference error);

  static native int faultodds_circuit_draw_svg(
      byte[] circuit, Native.Size circuitLength, byte[] theCase, Native.Size caseLength, CallOptions options,
      PointerByReference svg, PointerByReference error);

  static native int faultodds_circuit_expand_json(
      byte[] circuit, Native.Size circuitLength, CallOptions options, PointerByReference expanded,
      PointerByReference error);

  static native int faultodds_schema_json(
      byte[] format, Native.Size formatLength, CallOptions options, PointerByReference schema,
      PointerByReference error);

  static native int faultodds_network_load(
      byte[] text, Native.Size textLength, int format, NetworkOptions options, PointerByReference network,
      PointerByReference error);

  static native void faultodds_network_free(Pointer network);

  static native int faultodds_network_variable_count(Pointer network);

  static native Pointer faultodds_network_variable_name(Pointer network, int variable);

  static native int faultodds_network_state_count(Pointer network, int variable);

  static native Pointer faultodds_network_state_name(Pointer network, int variable, int state);

  static native Native.Size faultodds_network_posterior_count(Pointer network);

  static native int faultodds_network_find_variable(
      Pointer network, byte[] name, Native.Size nameLength, IntByReference variable, PointerByReference error);

  static native int faultodds_network_find_state(
      Pointer network, int variable, byte[] name, Native.Size nameLength, IntByReference state,
      PointerByReference error);

  static native int faultodds_network_read_statistics(
      Pointer network, NetworkStatistics statistics, PointerByReference error);

  static native int faultodds_network_query(
      Pointer network, NetworkEvidence evidence, Native.Size count, CallOptions options, double[] posteriors,
      Native.Size capacity, Pointer written, DoubleByReference logEvidence, PointerByReference error);

  static native int faultodds_network_case_open(
      Pointer network, PointerByReference newCase, PointerByReference error);

  static native void faultodds_network_case_free(Pointer theCase);

  static native int faultodds_network_case_observe(
      Pointer theCase, NetworkEvidence evidence, PointerByReference error);

  static native int faultodds_network_case_retract(Pointer theCase, int variable, PointerByReference error);

  static native int faultodds_network_case_solve(
      Pointer theCase, CallOptions options, DoubleByReference logEvidence, PointerByReference error);

  static native int faultodds_network_case_posterior(
      Pointer theCase, int variable, double[] posterior, Native.Size capacity, Pointer written,
      PointerByReference error);

  static native int faultodds_network_case_posteriors(
      Pointer theCase, double[] posteriors, Native.Size capacity, Pointer written, PointerByReference error);
}
