package faultodds;

import com.sun.jna.Memory;
import com.sun.jna.Pointer;
import com.sun.jna.Structure;
import com.sun.jna.ptr.DoubleByReference;
import com.sun.jna.ptr.PointerByReference;
import java.lang.ref.Reference;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.concurrent.locks.ReadWriteLock;
import java.util.concurrent.locks.ReentrantReadWriteLock;

/**
 * A compiled discrete Bayesian network, of hydraulics or not. Immutable: any number of threads may use one at
 * once. {@link #close()} waits for calls in other threads; every method afterwards throws {@link
 * IllegalStateException}.
 */
public final class Network implements AutoCloseable {
  /** What a text is written in. */
  public enum Format {
    /** BIF 0.15. */
    BIF,
    /** XMLBIF 0.3. */
    XMLBIF
  }

  /** What is known of some variables; of a variable that occurs twice, both. */
  public static final class Evidence {
    private record Known(String variable, String state, double[] likelihood) {}

    private final List<Known> known = new ArrayList<>();

    /** Nothing is known yet. */
    public Evidence() {}

    /**
     * A variable is in a state.
     *
     * @param variable its name
     * @param state name of the state
     * @return this
     */
    public Evidence is(String variable, String state) {
      known.add(new Known(variable, state, null));
      return this;
    }

    /**
     * A likelihood over the states of a variable.
     *
     * @param variable its name
     * @param likelihood a finite number of 0 or more per state, not all 0
     * @return this
     */
    public Evidence like(String variable, double... likelihood) {
      known.add(new Known(variable, null, likelihood.clone()));
      return this;
    }
  }

  /**
   * What follows from evidence.
   *
   * @param logEvidence natural logarithm of the probability of the evidence
   * @param posteriors of every variable the probability of each state, in the order of {@link
   *     Network#states(String)}
   */
  public record Answer(double logEvidence, Map<String, double[]> posteriors) {}

  private final ReadWriteLock use = new ReentrantReadWriteLock();
  private final Handle handle;
  private final Map<String, List<String>> states = new LinkedHashMap<>();
  private final List<String> variables;

  /**
   * Reads and compiles a network.
   *
   * @param text the network
   * @param format what it is written in
   * @param memoryBudget bytes of inference tables; 0 for the library's default of 1 GiB
   * @throws FaultoddsException if it is refused, with its line; or with {@code limit_exceeded}
   */
  public Network(String text, Format format, long memoryBudget) {
    this(text, format, memoryBudget, null);
  }

  /**
   * Reads and compiles a network.
   *
   * @param text the network
   * @param format what it is written in
   * @param memoryBudget bytes of inference tables; 0 for the library's default of 1 GiB
   * @param cancel what ends the call; {@code null} for nothing
   * @throws FaultoddsException if it is refused, with its line; with {@code limit_exceeded}; or {@code cancelled}
   */
  public Network(String text, Format format, long memoryBudget, Cancel cancel) {
    Native.atLeast("memoryBudget", memoryBudget, 0);
    byte[] bytes = Native.bytes(text, "text");
    PointerByReference network = new PointerByReference();
    PointerByReference error = new PointerByReference();
    int number = format == Format.BIF ? Declarations.BIF : Declarations.XMLBIF;
    Declarations.NetworkOptions options = new Declarations.NetworkOptions();
    options.structSize = new Native.Size(options.size());
    options.memoryBudget = memoryBudget;
    int status =
        Cancel.during(
            cancel,
            until -> {
              options.cancel = until;
              return Declarations.faultodds_network_load(
                  bytes, new Native.Size(bytes.length), number, options, network, error);
            });
    Native.check(status, error);
    Pointer made = network.getValue();
    handle = new Handle(this, made, Declarations::faultodds_network_free);
    int count = Declarations.faultodds_network_variable_count(made);
    for (int variable = 0; variable < count; ++variable) {
      List<String> names = new ArrayList<>();
      int size = Declarations.faultodds_network_state_count(made, variable);
      for (int state = 0; state < size; ++state) {
        names.add(Native.text(Declarations.faultodds_network_state_name(made, variable, state)));
      }
      states.put(Native.text(Declarations.faultodds_network_variable_name(made, variable)), List.copyOf(names));
    }
    variables = List.copyOf(states.keySet());
  }

  /**
   * Names of the variables.
   *
   * @return in the order of the text
   */
  public List<String> variables() {
    return variables;
  }

  /**
   * Names of the states of a variable.
   *
   * @param variable its name
   * @return the names
   * @throws FaultoddsException if there is no such variable
   */
  public List<String> states(String variable) {
    List<String> names = states.get(variable);
    if (names != null) return names;
    throw new FaultoddsException("invalid_argument", "unknown variable `" + variable + "`", "");
  }

  /**
   * Posteriors of all variables, exact.
   *
   * @param evidence what is known
   * @return what follows
   * @throws FaultoddsException with {@code conflicting_evidence} and the variables in conflict if the evidence is
   *     impossible
   */
  public Answer query(Evidence evidence) {
    return query(evidence, null);
  }

  /**
   * Posteriors of all variables, exact.
   *
   * @param evidence what is known
   * @param cancel what ends the call; {@code null} for nothing
   * @return what follows
   * @throws FaultoddsException as {@link #query(Evidence)}, or {@code cancelled}
   */
  public Answer query(Evidence evidence, Cancel cancel) {
    List<Evidence.Known> known = evidence.known;
    // Side by side in memory, as C has an array; the first stands for all.
    Structure[] lines = known.isEmpty() ? null : new Declarations.NetworkEvidence().toArray(known.size());
    for (int i = 0; i < known.size(); ++i) fill((Declarations.NetworkEvidence) lines[i], known.get(i));
    Declarations.NetworkEvidence first = lines == null ? null : (Declarations.NetworkEvidence) lines[0];
    use.readLock().lock();
    try {
      Pointer network = handle.get("network");
      double[] room = new double[Declarations.faultodds_network_posterior_count(network).intValue()];
      DoubleByReference logEvidence = new DoubleByReference();
      PointerByReference error = new PointerByReference();
      int status =
          Cancel.until(
              cancel,
              options ->
                  Declarations.faultodds_network_query(
                      network, first, new Native.Size(known.size()), options, room, new Native.Size(room.length),
                      new Memory(com.sun.jna.Native.SIZE_T_SIZE), logEvidence, error));
      Native.check(status, error);
      Map<String, double[]> posteriors = new LinkedHashMap<>();
      int at = 0;
      for (String variable : variables) {
        int count = states.get(variable).size();
        posteriors.put(variable, java.util.Arrays.copyOfRange(room, at, at + count));
        at += count;
      }
      return new Answer(logEvidence.getValue(), posteriors);
    } finally {
      use.readLock().unlock();
      Reference.reachabilityFence(lines);
      Reference.reachabilityFence(this);
    }
  }

  /** Frees the network once calls in other threads have returned. May be called again. */
  @Override
  public void close() {
    use.writeLock().lock();
    try {
      handle.free();
    } finally {
      use.writeLock().unlock();
    }
  }

  private void fill(Declarations.NetworkEvidence line, Evidence.Known one) {
    List<String> names = states(one.variable());
    line.structSize = new Native.Size(line.size());
    line.variable = variables.indexOf(one.variable());
    line.state = -1;
    if (one.likelihood() == null) {
      line.state = names.indexOf(one.state());
      if (line.state < 0) {
        throw new FaultoddsException(
            "invalid_argument", "`" + one.variable() + "` has no state `" + one.state() + "`", "");
      }
    } else if (one.likelihood().length > 0) {
      line.likelihood = new Memory(8L * one.likelihood().length);
      line.likelihood.write(0, one.likelihood(), 0, one.likelihood().length);
      line.likelihoodCount = new Native.Size(one.likelihood().length);
    }
  }
}
