package faultodds;

import com.sun.jna.ptr.PointerByReference;
import java.util.Map;

/** The one call, and the version. */
public final class Faultodds {
  private Faultodds() {}

  /**
   * Version of the loaded library.
   *
   * @return for example {@code "0.2.0"}
   */
  public static String version() {
    return Native.text(Declarations.faultodds_version());
  }

  /**
   * Assesses one case against one circuit, with the shipped priors, and forgets both.
   *
   * @param circuit a circuit document
   * @param theCase a case document
   * @return the assessment
   * @throws FaultoddsException if a document is refused
   */
  public static Assessment assess(String circuit, String theCase) {
    return assess(circuit, theCase, null);
  }

  /**
   * Assesses one case against one circuit and forgets both.
   *
   * @param circuit a circuit document
   * @param theCase a case document
   * @param priors a prior pack; {@code null} for the shipped one
   * @return the assessment
   * @throws FaultoddsException if a document is refused
   */
  public static Assessment assess(String circuit, String theCase, String priors) {
    return assess(circuit, theCase, priors, null);
  }

  /**
   * Assesses one case against one circuit and forgets both.
   *
   * @param circuit a circuit document
   * @param theCase a case document
   * @param priors a prior pack; {@code null} for the shipped one
   * @param cancel what ends the call; {@code null} for nothing
   * @return the assessment
   * @throws FaultoddsException if a document is refused, or {@code cancelled}
   */
  public static Assessment assess(String circuit, String theCase, String priors, Cancel cancel) {
    byte[] circuitText = Native.bytes(circuit, "circuit");
    byte[] caseText = Native.bytes(theCase, "case");
    byte[] priorsText = priors == null ? null : Native.bytes(priors, "priors");
    PointerByReference answer = new PointerByReference();
    PointerByReference error = new PointerByReference();
    int status =
        Cancel.until(
            cancel,
            options ->
                Declarations.faultodds_assess_json(
                    circuitText, new Native.Size(circuitText.length),
                    caseText, new Native.Size(caseText.length),
                    priorsText, new Native.Size(priorsText == null ? 0 : priorsText.length),
                    options, answer, error));
    if (status == 0) return Assessment.read(Native.taken(answer));
    if (error.getValue() == null) {
      throw new FaultoddsException(Native.text(Declarations.faultodds_status_name(status)), "", "");
    }
    Map<String, Object> told = Json.object(Json.parse(Native.taken(error)));
    throw new FaultoddsException(
        (String) told.get("code"), (String) told.get("message"), (String) told.get("pointer"));
  }
}
