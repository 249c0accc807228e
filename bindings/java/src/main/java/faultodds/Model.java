package faultodds;

import com.sun.jna.Pointer;
import com.sun.jna.ptr.IntByReference;
import com.sun.jna.ptr.PointerByReference;
import java.lang.ref.Reference;
import java.util.ArrayList;
import java.util.List;
import java.util.concurrent.locks.ReadWriteLock;
import java.util.concurrent.locks.ReentrantReadWriteLock;
import java.util.function.BiFunction;
import java.util.function.Function;
import java.util.function.IntFunction;

/**
 * A compiled circuit. Immutable: any number of threads may use one model at once. {@link #close()} waits for
 * calls in other threads; every method afterwards throws {@link IllegalStateException}.
 */
public final class Model implements AutoCloseable {
  private final ReadWriteLock use = new ReentrantReadWriteLock();
  private final Handle handle;

  /**
   * Compiles a circuit with the shipped priors.
   *
   * @param circuit a circuit document
   * @throws FaultoddsException if it is refused
   */
  public Model(String circuit) {
    this(circuit, null, "", 0);
  }

  /**
   * Compiles a circuit.
   *
   * @param circuit a circuit document
   * @param priors a prior pack; {@code null} for the shipped one
   * @param assetClass which entries of the pack to use; empty for none in particular
   * @param memoryBudget bytes of inference tables; 0 for the library's default of 1 GiB
   * @throws FaultoddsException if a document is refused, or with {@code limit_exceeded}
   */
  public Model(String circuit, String priors, String assetClass, long memoryBudget) {
    this(circuit, priors, assetClass, memoryBudget, null);
  }

  /**
   * Compiles a circuit.
   *
   * @param circuit a circuit document
   * @param priors a prior pack; {@code null} for the shipped one
   * @param assetClass which entries of the pack to use; empty for none in particular
   * @param memoryBudget bytes of inference tables; 0 for the library's default of 1 GiB
   * @param cancel what ends the call; {@code null} for nothing
   * @throws FaultoddsException if a document is refused, with {@code limit_exceeded}, or {@code cancelled}
   */
  public Model(String circuit, String priors, String assetClass, long memoryBudget, Cancel cancel) {
    Native.atLeast("memoryBudget", memoryBudget, 0);
    byte[] circuitText = Native.bytes(circuit, "circuit");
    byte[] priorsText = priors == null ? null : Native.bytes(priors, "priors");
    Declarations.ModelOptions options = new Declarations.ModelOptions();
    options.structSize = new Native.Size(options.size());
    options.memoryBudget = memoryBudget;
    options.assetClass.set(assetClass, "assetClass");
    PointerByReference model = new PointerByReference();
    PointerByReference error = new PointerByReference();
    int status =
        Cancel.during(
            cancel,
            until -> {
              options.cancel = until;
              return Declarations.faultodds_model_load(
                  circuitText, new Native.Size(circuitText.length),
                  priorsText, new Native.Size(priorsText == null ? 0 : priorsText.length),
                  options, model, error);
            });
    Reference.reachabilityFence(options);
    Native.check(status, error);
    handle = new Handle(this, model.getValue(), Declarations::faultodds_model_free);
  }

  /**
   * Assesses a case document.
   *
   * @param theCase a case document
   * @return the assessment
   * @throws FaultoddsException if the document is refused
   */
  public Assessment assess(String theCase) {
    return assess(theCase, null);
  }

  /**
   * Assesses a case document.
   *
   * @param theCase a case document
   * @param cancel what ends the call; {@code null} for nothing
   * @return the assessment
   * @throws FaultoddsException if the document is refused, or {@code cancelled}
   */
  public Assessment assess(String theCase, Cancel cancel) {
    byte[] text = Native.bytes(theCase, "case");
    return with(
        cancel,
        (model, options) -> {
          PointerByReference answer = new PointerByReference();
          PointerByReference error = new PointerByReference();
          Native.check(
              Declarations.faultodds_model_assess_json(
                  model, text, new Native.Size(text.length), options, answer, error),
              error);
          return Assessment.read(Native.taken(answer));
        });
  }

  /**
   * A note for the work order, plain text: what was observed, what is suspected and why, what to do next,
   * the cautions before everything they belong to.
   *
   * @param theCase a case document
   * @return lines of 78 columns
   * @throws FaultoddsException if the document is refused
   */
  public String note(String theCase) {
    return note(theCase, Declarations.NOTE_TEXT, null);
  }

  /**
   * The same, with what ends the call.
   *
   * @param theCase a case document
   * @param cancel what ends the call; {@code null} for nothing
   * @return lines of 78 columns
   * @throws FaultoddsException if the document is refused, or {@code cancelled}
   */
  public String note(String theCase, Cancel cancel) {
    return note(theCase, Declarations.NOTE_TEXT, cancel);
  }

  /**
   * The same as one HTML page that needs nothing else; what came from documents is escaped.
   *
   * @param theCase a case document
   * @return the page
   * @throws FaultoddsException if the document is refused
   */
  public String noteHtml(String theCase) {
    return note(theCase, Declarations.NOTE_HTML, null);
  }

  /**
   * The same, with what ends the call.
   *
   * @param theCase a case document
   * @param cancel what ends the call; {@code null} for nothing
   * @return the page
   * @throws FaultoddsException if the document is refused, or {@code cancelled}
   */
  public String noteHtml(String theCase, Cancel cancel) {
    return note(theCase, Declarations.NOTE_HTML, cancel);
  }

  /**
   * The tests to make one after the other, by outcome, and what to replace at the end of each branch.
   *
   * @param theCase a case document
   * @return the plan
   * @throws FaultoddsException if the document is refused
   */
  public Plan plan(String theCase) {
    return plan(theCase, null);
  }

  /**
   * The same, with what ends the call, which keeps what is ready.
   *
   * @param theCase a case document
   * @param cancel what ends the call; {@code null} for nothing
   * @return the plan
   * @throws FaultoddsException if the document is refused, or {@code cancelled} before anything is ready
   */
  public Plan plan(String theCase, Cancel cancel) {
    return Plan.read(plan(theCase, Declarations.PLAN_JSON, cancel));
  }

  /**
   * The same as a card to print, one HTML page, the cautions before everything.
   *
   * @param theCase a case document
   * @return the page
   * @throws FaultoddsException if the document is refused
   */
  public String planCard(String theCase) {
    return plan(theCase, Declarations.PLAN_HTML, null);
  }

  /**
   * The same, with what ends the call, which keeps what is ready.
   *
   * @param theCase a case document
   * @param cancel what ends the call; {@code null} for nothing
   * @return the page
   * @throws FaultoddsException if the document is refused, or {@code cancelled} before anything is ready
   */
  public String planCard(String theCase, Cancel cancel) {
    return plan(theCase, Declarations.PLAN_HTML, cancel);
  }

  /**
   * What the words of a complaint may mean, in English.
   *
   * @param text as an operator wrote it
   * @return at most three, the likeliest first; none where nothing fits. A person confirms one
   * @throws FaultoddsException if the text is too long
   */
  public List<Proposal> propose(String text) {
    return propose(text, "en", null);
  }

  /**
   * What the words of a complaint may mean.
   *
   * @param text as an operator wrote it
   * @param language that of the text: en, de, es or fr
   * @param cancel what ends the call; {@code null} for nothing
   * @return at most three, the likeliest first; none where nothing fits. A person confirms one
   * @throws FaultoddsException if there are no words of the language, the text is too long, or {@code cancelled}
   */
  public List<Proposal> propose(String text, String language, Cancel cancel) {
    byte[] words = Native.bytes(text, "text");
    byte[] of = Native.bytes(language, "language");
    return with(
        cancel,
        (model, options) -> {
          PointerByReference proposals = new PointerByReference();
          PointerByReference error = new PointerByReference();
          Native.check(
              Declarations.faultodds_model_propose_json(
                  model, words, new Native.Size(words.length), of, new Native.Size(of.length), options, proposals,
                  error),
              error);
          return Proposal.read(Native.taken(proposals));
        });
  }

  /**
   * The record of a closed work order.
   *
   * @param theCase a case document
   * @param closing what was found: a document {@code "faultodds-closing/1"}
   * @return a document {@code "faultodds-record/1"} as JSON text
   * @throws FaultoddsException if a document is refused; a pointer into the case begins with {@code /case}
   */
  public String record(String theCase, String closing) {
    return record(theCase, closing, Declarations.RECORD_JSON);
  }

  /**
   * The same as rows of a work-order file (CSV), from which prior packs are learned.
   *
   * @param theCase a case document
   * @param closing what was found: a document {@code "faultodds-closing/1"}
   * @param header whether the rows come below the header that begins such a file
   * @return the rows
   * @throws FaultoddsException as {@link #record(String, String)}
   */
  public String recordRows(String theCase, String closing, boolean header) {
    return record(theCase, closing, header ? Declarations.RECORD_CSV_HEADED : Declarations.RECORD_CSV);
  }

  /**
   * Opens an empty case, for evidence that comes one by one. It may outlive the model.
   *
   * @return a case to be closed by the caller
   */
  public Case openCase() {
    List<String> modes = modes();
    List<String> observations = observations();
    List<String> components = ids(Declarations.COMPONENT);
    return with(
        model -> {
          PointerByReference made = new PointerByReference();
          PointerByReference error = new PointerByReference();
          Native.check(Declarations.faultodds_case_open(model, made, error), error);
          return new Case(made.getValue(), modes, observations, components);
        });
  }

  /**
   * Ids of the failure modes, {@code component.mode}.
   *
   * @return in the order of {@link Case#posteriors()}
   */
  public List<String> modes() {
    return ids(Declarations.MODE);
  }

  /**
   * Ids of everything that can be observed on this circuit.
   *
   * @return the ids
   */
  public List<String> observations() {
    return ids(Declarations.OBSERVATION);
  }

  /**
   * Ids of the outcomes of an observation, the normal one first.
   *
   * @param observation an id
   * @return the outcomes
   * @throws FaultoddsException if the circuit has no such observation
   */
  public List<String> outcomes(String observation) {
    byte[] id = Native.bytes(observation, "observation");
    return with(
        model -> {
          IntByReference found = new IntByReference();
          PointerByReference error = new PointerByReference();
          Native.check(
              Declarations.faultodds_model_find(
                  model, Declarations.OBSERVATION, id, new Native.Size(id.length), found, error),
              error);
          int index = found.getValue();
          return ids(
              Declarations.faultodds_model_outcome_count(model, index),
              outcome -> Declarations.faultodds_model_outcome_id(model, index, outcome));
        });
  }

  /**
   * What the circuit can show: modes, observations with their titles and sets, setup steps.
   *
   * @return a document {@code "faultodds-model/1"} as JSON text
   */
  public String describe() {
    return with(
        model -> {
          PointerByReference document = new PointerByReference();
          PointerByReference error = new PointerByReference();
          Native.check(Declarations.faultodds_model_describe_json(model, null, document, error), error);
          return Native.taken(document);
        });
  }

  /** Frees the model once calls in other threads have returned. May be called again. */
  @Override
  public void close() {
    use.writeLock().lock();
    try {
      handle.free();
    } finally {
      use.writeLock().unlock();
    }
  }

  private String note(String theCase, int format, Cancel cancel) {
    byte[] text = Native.bytes(theCase, "case");
    return with(
        cancel,
        (model, options) -> {
          PointerByReference note = new PointerByReference();
          PointerByReference error = new PointerByReference();
          Native.check(
              Declarations.faultodds_model_note(
                  model, text, new Native.Size(text.length), format, options, note, error),
              error);
          return Native.taken(note);
        });
  }

  private String plan(String theCase, int format, Cancel cancel) {
    byte[] text = Native.bytes(theCase, "case");
    return with(
        cancel,
        (model, options) -> {
          PointerByReference plan = new PointerByReference();
          PointerByReference error = new PointerByReference();
          Native.check(
              Declarations.faultodds_model_plan(
                  model, text, new Native.Size(text.length), format, options, plan, error),
              error);
          return Native.taken(plan);
        });
  }

  private String record(String theCase, String closing, int format) {
    byte[] text = Native.bytes(theCase, "case");
    byte[] closed = Native.bytes(closing, "closing");
    return with(
        model -> {
          PointerByReference record = new PointerByReference();
          PointerByReference error = new PointerByReference();
          Native.check(
              Declarations.faultodds_model_close(
                  model, text, new Native.Size(text.length), closed, new Native.Size(closed.length), format,
                  null, record, error),
              error);
          return Native.taken(record);
        });
  }

  private <T> T with(Cancel cancel, BiFunction<Pointer, Declarations.CallOptions, T> call) {
    return Cancel.until(cancel, options -> with(model -> call.apply(model, options)));
  }

  private <T> T with(Function<Pointer, T> call) {
    use.readLock().lock();
    try {
      return call.apply(handle.get("model"));
    } finally {
      use.readLock().unlock();
      Reference.reachabilityFence(this);
    }
  }

  private List<String> ids(int kind) {
    return with(
        model ->
            ids(
                Declarations.faultodds_model_count(model, kind),
                index -> Declarations.faultodds_model_id(model, kind, index)));
  }

  private static List<String> ids(int count, IntFunction<Pointer> name) {
    List<String> ids = new ArrayList<>(count);
    for (int index = 0; index < count; ++index) ids.add(Native.text(name.apply(index)));
    return List.copyOf(ids);
  }
}
