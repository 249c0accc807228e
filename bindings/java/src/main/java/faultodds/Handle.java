package faultodds;

import com.sun.jna.Pointer;
import java.lang.ref.Cleaner;
import java.util.function.Consumer;

/** An object of the library, freed once: by {@link #free()}, or when its owner is no longer reachable. */
final class Handle {
  private static final Cleaner CLEANER = Cleaner.create();

  private final Pointer pointer;
  private final Cleaner.Cleanable cleanable;
  private boolean open = true;

  /** {@code owner} must not be reachable from {@code free}. */
  Handle(Object owner, Pointer pointer, Consumer<Pointer> free) {
    this.pointer = pointer;
    this.cleanable = CLEANER.register(owner, () -> free.accept(pointer));
  }

  Pointer get(String what) {
    if (!open) throw new IllegalStateException("the " + what + " is closed");
    return pointer;
  }

  boolean isOpen() {
    return open;
  }

  void free() {
    open = false;
    cleanable.clean();
  }
}
