package faultodds;

import com.sun.jna.Pointer;
import com.sun.jna.ptr.PointerByReference;
import java.lang.ref.Reference;
import java.time.Duration;
import java.util.concurrent.locks.ReentrantReadWriteLock;
import java.util.function.Function;

/**
 * Ends the calls it is given to: they throw a {@link FaultoddsException} with the code {@code cancelled}. What they
 * were called on can be used on. One object may serve any number of calls and threads, and be told to end them from
 * any thread. A call that has its answer by then gives it.
 */
public final class Cancel implements AutoCloseable {
  private final ReentrantReadWriteLock use = new ReentrantReadWriteLock();
  private final Handle handle;

  /** Ends nothing until it is told to. */
  public Cancel() {
    PointerByReference cancel = new PointerByReference();
    PointerByReference error = new PointerByReference();
    Native.check(Declarations.faultodds_cancel_new(cancel, error), error);
    handle = new Handle(this, cancel.getValue(), Declarations::faultodds_cancel_free);
  }

  /**
   * Ends calls after a time.
   *
   * @param time as {@link #after(Duration)}
   */
  public Cancel(Duration time) {
    this();
    after(time);
  }

  /** Ends the calls that have it, and those that are given it later. */
  public void now() {
    during(
        cancel -> {
          Declarations.faultodds_cancel_now(cancel);
          return null;
        });
  }

  /**
   * Ends them so long from now, in place of a time given before.
   *
   * @param time 0 or more; looked at in milliseconds
   */
  public void after(Duration time) {
    if (time.isNegative()) throw new IllegalArgumentException("time is " + time + "; expected 0 or more");
    long most = Long.MAX_VALUE / 1000;
    long milliseconds = time.getSeconds() < most ? time.toMillis() : Long.MAX_VALUE;
    during(
        cancel -> {
          Declarations.faultodds_cancel_after_ms(cancel, milliseconds);
          return null;
        });
  }

  /** As when new. */
  public void reset() {
    during(
        cancel -> {
          Declarations.faultodds_cancel_reset(cancel);
          return null;
        });
  }

  /**
   * Ends the calls that still have it, waits for them and frees it. May be called again.
   *
   * @throws IllegalStateException in a callback of a call that has it, which cannot wait for that call; the call is
   *     ended all the same
   */
  @Override
  public void close() {
    use.readLock().lock();
    try {
      if (handle.isOpen()) now();
    } finally {
      use.readLock().unlock();
    }
    if (use.getReadHoldCount() > 0) {
      throw new IllegalStateException("a call of this thread has the Cancel; expected none when it is closed");
    }
    use.writeLock().lock();
    try {
      handle.free();
    } finally {
      use.writeLock().unlock();
    }
  }

  /** Makes a call whose options hold nothing else; they are NULL where nothing shall end the call. */
  static <T> T until(Cancel cancelOrNull, Function<Declarations.CallOptions, T> call) {
    if (cancelOrNull == null) return call.apply(null);
    return cancelOrNull.during(
        cancel -> {
          Declarations.CallOptions options = new Declarations.CallOptions();
          options.structSize = new Native.Size(options.size());
          options.cancel = cancel;
          return call.apply(options);
        });
  }

  /** Makes a call that has it among its options, or NULL where nothing shall end the call. */
  static <T> T during(Cancel cancelOrNull, Function<Pointer, T> call) {
    return cancelOrNull == null ? call.apply(null) : cancelOrNull.during(call);
  }

  private <T> T during(Function<Pointer, T> call) {
    use.readLock().lock();
    try {
      return call.apply(handle.get("Cancel"));
    } finally {
      use.readLock().unlock();
      Reference.reachabilityFence(this);
    }
  }
}
