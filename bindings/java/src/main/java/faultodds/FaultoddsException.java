package faultodds;

/** The library refused a call. */
public final class FaultoddsException extends RuntimeException {
  private static final long serialVersionUID = 1;

  /** Name of the library's status. */
  private final String code;

  /** For a person. */
  private final String sentence;

  /** JSON pointer. */
  private final String pointer;

  FaultoddsException(String code, String sentence, String pointer) {
    super(code + ": " + sentence + (pointer.isEmpty() ? "" : " (at " + pointer + ")"));
    this.code = code;
    this.sentence = sentence;
    this.pointer = pointer;
  }

  /**
   * What went wrong, for programs: {@code "invalid_case"}, {@code "conflicting_evidence"}, ... Later
   * versions may add codes.
   *
   * @return the name of the library's status
   */
  public String code() {
    return code;
  }

  /**
   * A sentence for a person: the field, the value and what was expected. {@link #getMessage()} has the
   * code and the place besides.
   *
   * @return the sentence
   */
  public String sentence() {
    return sentence;
  }

  /**
   * Where: an RFC 6901 pointer into the document at fault, such as {@code "/observations/0/outcome"}.
   * {@link Faultodds#assess(String, String)} puts {@code /circuit}, {@code /case} or {@code /priors}
   * before it.
   *
   * @return the pointer; empty for the whole document
   */
  public String pointer() {
    return pointer;
  }
}
