package faultodds;

import com.sun.jna.NativeLibrary;
import com.sun.jna.Platform;
import java.io.File;
import java.io.IOException;

/** Finds the shared library. */
final class Library {
  private static final int SOVERSION = 2;

  private Library() {}

  // Where the library is: the system property `faultodds.library`, the environment's FAULTODDS_LIBRARY,
  // this jar, the system's loader. The first that applies is used; if it cannot be loaded, that is told.
  static NativeLibrary find() {
    String named = System.getProperty("faultodds.library", System.getenv("FAULTODDS_LIBRARY"));
    if (named != null && !named.isEmpty()) return NativeLibrary.getInstance(named);
    String name = fileName();
    String inside = "/" + Platform.RESOURCE_PREFIX + "/" + name;
    if (Library.class.getResource(inside) == null) return NativeLibrary.getInstance(name);
    try {
      File extracted = com.sun.jna.Native.extractFromResourcePath(inside, Library.class.getClassLoader());
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
