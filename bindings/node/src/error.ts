/** The library refused a call. */
export class FaultoddsError extends Error {
  override readonly name = "FaultoddsError";

  /**
   * @param code what went wrong, for programs: "invalid_case", "conflicting_evidence", ...; codes may be added
   * @param message a sentence for a person: the field, the value and what was expected
   * @param pointer RFC 6901 JSON pointer into the document at fault; "" for the whole of it
   */
  constructor(
    readonly code: string,
    message: string,
    readonly pointer: string = "",
  ) {
    super(message);
  }
}
