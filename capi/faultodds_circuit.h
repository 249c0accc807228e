/* faultodds_circuit: for who writes circuit documents. Checks, explains, compares, begins and draws
 * them; JSON Schemas of all documents. faultodds.h has the conventions; a program that only asks
 * about cases needs nothing of this header.
 */
#ifndef FAULTODDS_CIRCUIT_H
#define FAULTODDS_CIRCUIT_H

#include "faultodds.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Everything the author of a circuit document should look at, "faultodds-check/1": {circuit,
 * errors, warnings, notes, findings: [{severity: "error", "warning" or "note", rule, pointer,
 * value, message, expected, cause, source, also}]}, errors first. A document that does not load is
 * no failure of this call; what it says in place of the answer is in the findings. The pointers are
 * RFC 6901, `cause` is what the author has probably done, `also` other places that it is about.
 * Free *findings with faultodds_free. Safe from any thread, as all of these. */
FAULTODDS_API faultodds_status faultodds_circuit_check_json(const char* circuit, size_t circuit_len,
                                                            const faultodds_call_options* options,
                                                            char** findings,
                                                            faultodds_error** error);

/* Why an observation can show what: "faultodds-explanation/1", its minimal sets as sentences, the
 * way of the oil over named parts, and of holds and drifts what it shows with every mode of the set
 * at `size` ("300 mL/min" at 100 bar and 46 mm2/s; NULL: as large as a failed one), with the flow
 * past each part and the pressures on the way. Free *explanation with faultodds_free. */
FAULTODDS_API faultodds_status faultodds_circuit_explain_json(
    const char* circuit, size_t circuit_len, const char* observation, size_t observation_len,
    const char* size_or_null, size_t size_len, const faultodds_call_options* options,
    char** explanation, faultodds_error** error);

/* What changes from one circuit document to another, "faultodds-circuit-diff/1": components,
 * failure modes, observations, their sets, test pressures and priors; with a case also its causes
 * and first test. Free *difference with faultodds_free. */
FAULTODDS_API faultodds_status faultodds_circuit_diff_json(
    const char* before, size_t before_len, const char* after, size_t after_len,
    const char* case_or_null, size_t case_len, const faultodds_call_options* options,
    char** difference, faultodds_error** error);

/* A circuit document from a list of parts, "faultodds-parts/1": {id, title, parts: [{id, type,
 * title, and what else a component may have}]} in the order in which the oil meets them: what
 * stands before the pump is on its suction side, what follows a valve lies between its ports and
 * the actuator that ends its list. The document is joined as such parts are, with lines and
 * functions, and holds no value that the list does not give: check it. Free *circuit with
 * faultodds_free. */
FAULTODDS_API faultodds_status faultodds_circuit_new_json(const char* parts, size_t parts_len,
                                                          const faultodds_call_options* options,
                                                          char** circuit, faultodds_error** error);

/* The circuit as a drawing, SVG, with symbols after ISO 1219-1; with a case its suspects shaded
 * with their probabilities, the leak path of the first of them and the port of the next test
 * marked. The cautions of that test stand in the drawing. Free *svg with faultodds_free. */
FAULTODDS_API faultodds_status faultodds_circuit_draw_svg(const char* circuit, size_t circuit_len,
                                                          const char* case_or_null, size_t case_len,
                                                          const faultodds_call_options* options,
                                                          char** svg, faultodds_error** error);

/* The circuit document that another stands for: a variant (`extends`, its base inside) and
 * assemblies written out, components, connections, fittings and functions and nothing else. Every
 * call that takes a circuit takes either, answers both alike, and speaks of errors at their place
 * in what it was given. Free *expanded with faultodds_free. */
FAULTODDS_API faultodds_status faultodds_circuit_expand_json(const char* circuit,
                                                             size_t circuit_len,
                                                             const faultodds_call_options* options,
                                                             char** expanded,
                                                             faultodds_error** error);

/* JSON Schema (2020-12) of a document that is given: "faultodds-circuit/1", "faultodds-case/1",
 * "faultodds-priors/1", "faultodds-parts/1"; or of one that is answered: "faultodds-assessment/1",
 * "faultodds-plan/1". What it refuses of the former is refused by the reader, which also refuses
 * names that do not resolve. The latter are open: later versions may add members, which a program
 * passes over. Free *schema with faultodds_free. */
FAULTODDS_API faultodds_status faultodds_schema_json(const char* format, size_t format_len,
                                                     const faultodds_call_options* options,
                                                     char** schema, faultodds_error** error);

#ifdef __cplusplus
}
#endif

#endif /* FAULTODDS_CIRCUIT_H */
