/**
 * Ranks hydraulic suspects and next tests: a binding of the faultodds C library.
 *
 * <p>Three ways in: {@link faultodds.Faultodds#assess(String, String)} for one answer, {@link
 * faultodds.Model} for many cases of one circuit, {@link faultodds.Model#openCase()} for evidence that
 * comes one by one. Documents go in as JSON text; nothing is checked here that the library checks. Every
 * refusal is a {@link faultodds.FaultoddsException}.
 *
 * <p><strong>A program that shows a test shows its cautions before it</strong>: {@link
 * faultodds.Assessment.Test#cautions()}.
 */
package faultodds;
