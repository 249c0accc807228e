package faultodds;

import com.sun.jna.IntegerType;
import com.sun.jna.Memory;
import com.sun.jna.Pointer;
import com.sun.jna.Structure;
import com.sun.jna.ptr.PointerByReference;
import java.nio.ByteBuffer;
import java.nio.CharBuffer;
import java.nio.charset.CharacterCodingException;
import java.nio.charset.CodingErrorAction;
import java.nio.charset.StandardCharsets;
import java.util.Arrays;

/** How numbers, text and errors cross between Java and C. What C has is in Declarations. */
final class Native {
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
      Declarations.faultodds_free(owned.getValue());
    }
  }

  /** Throws what a status other than OK means; frees the library's error. */
  static void check(int status, PointerByReference error) {
    if (status == 0) return;
    Pointer owned = error.getValue();
    try {
      throw new FaultoddsException(
          text(Declarations.faultodds_status_name(status)), text(Declarations.faultodds_error_message(owned)),
          text(Declarations.faultodds_error_pointer(owned)));
    } finally {
      Declarations.faultodds_error_free(owned);
    }
  }
}
