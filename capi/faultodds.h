/* faultodds: which part of a hydraulic circuit has probably failed, and which test to make next.
 *
 * This header is the public interface and its manual; with faultodds_circuit.h, for who writes circuit
 * documents, and faultodds_network.h, for Bayesian networks in general, it is all there is.
 *
 * WHERE TO BEGIN
 *  faultodds_assess_json() answers one case of one circuit. A program that asks more than once loads
 *  the circuit with faultodds_model_load() and asks it with faultodds_model_assess_json(): documents in,
 *  documents out. faultodds_case_open() and what follows it are for programs that count in numbers.
 *
 * CONVENTIONS
 *  (1) Every function that can fail returns a faultodds_status; FAULTODDS_OK is 0. Results come
 *      back through the out-parameters, which are last. On failure every out-parameter but the
 *      error is set to NULL or 0.
 *  (2) Every such function takes a `faultodds_error** error` as its very last parameter. It may be
 *      NULL. On failure it receives an object that the caller frees with faultodds_error_free();
 *      on success it receives NULL. There is no per-thread "last error".
 *  (3) Strings go in as (pointer, length) of UTF-8 bytes and need no terminator. A NULL pointer is
 *      allowed only with length 0. Strings come out NUL-terminated.
 *  (4) Function names are stable within a SOVERSION; enumerators are added, never renumbered.
 *      Who frees: each function says so. Every *_free() accepts NULL and does nothing.
 *  (5) Structs begin with `size_t struct_size`, which the caller sets to sizeof(the struct) as it
 *      was compiled; later versions add members at the end only, and take the shorter structs of
 *      earlier ones, whose missing members count as 0.
 *  (6) Threads: a `const` handle may be used by any number of threads at once. A non-const handle
 *      is used by one thread at a time. Handles may be freed in any order: a case keeps its model
 *      alive.
 *  (7) Nothing throws across this boundary, nothing is printed, and no global state is kept.
 *  (8) Documents are UTF-8 JSON (RFC 8259), but for networks. Unknown keys are errors. Quantities
 *      are strings with a unit ("175 bar"). Size, depth and table limits are listed in capi/README.md.
 *
 * SAFETY
 *  Answers carry cautions for each test. A program that shows a test shows its cautions.
 */
#ifndef FAULTODDS_H
#define FAULTODDS_H

#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define FAULTODDS_VERSION_MAJOR 0
#define FAULTODDS_VERSION_MINOR 2
#define FAULTODDS_VERSION_PATCH 0

#if defined(_WIN32)
#if defined(FAULTODDS_BUILD)
#define FAULTODDS_API __declspec(dllexport)
#else
#define FAULTODDS_API __declspec(dllimport)
#endif
#else
#define FAULTODDS_API __attribute__((visibility("default")))
#endif

/* What went wrong, as a program branches on it. The error object has the sentence and the place. */
typedef int32_t faultodds_status;
enum {
  FAULTODDS_OK = 0,
  FAULTODDS_INVALID_ARGUMENT = 1,     /* NULL where none is allowed, wrong struct_size, bad index */
  FAULTODDS_INVALID_JSON = 2,         /* not JSON, not UTF-8, duplicate key, too deep, too large */
  FAULTODDS_INVALID_DOCUMENT = 3,     /* JSON, but not the document it should be */
  FAULTODDS_INVALID_CIRCUIT = 4,      /* unresolved names, impossible functions, unsafe tests */
  FAULTODDS_INVALID_CASE = 5,         /* unknown observation or outcome, senseless reading */
  FAULTODDS_INVALID_PRIORS = 6,       /* a prior pack that is not usable */
  FAULTODDS_CONFLICTING_EVIDENCE = 7, /* the observations cannot all be true */
  FAULTODDS_LIMIT_EXCEEDED = 8,       /* a stated limit was reached */
  FAULTODDS_OUT_OF_MEMORY = 9,
  FAULTODDS_CANCELLED = 10,
  FAULTODDS_INTERNAL = 11             /* a defect of this library; please report it */
};

typedef struct faultodds_error faultodds_error; /* one error; immutable */
typedef struct faultodds_model faultodds_model; /* a compiled circuit; immutable, shared */
typedef struct faultodds_case faultodds_case;   /* evidence of one work order; one thread at a time */
typedef struct faultodds_cancel faultodds_cancel; /* ends calls; any number of threads at once */

/* ---- version ---------------------------------------------------------------------------------- */

/* "0.2.0"; static storage, never freed. */
FAULTODDS_API const char* faultodds_version(void);

/* A short snake_case name of a status ("invalid_case"); static storage. Unknown values give
 * "unknown". It is the `code` of JSON errors and the end of the HTTP problem type. */
FAULTODDS_API const char* faultodds_status_name(faultodds_status status);

/* ---- errors ----------------------------------------------------------------------------------- */

/* All three accept NULL and then return FAULTODDS_OK or "". The strings live as long as `error`.
 * The message names the field, the value and what was expected; the pointer is an RFC 6901 JSON
 * pointer into the document at fault, prefixed in one-call functions by the document's name
 * ("/circuit/components/3/type"). */
FAULTODDS_API faultodds_status faultodds_error_code(const faultodds_error* error);
FAULTODDS_API const char* faultodds_error_message(const faultodds_error* error);
FAULTODDS_API const char* faultodds_error_pointer(const faultodds_error* error);
FAULTODDS_API void faultodds_error_free(faultodds_error* error);

/* Frees a string that this library returned with the words "free with faultodds_free". */
FAULTODDS_API void faultodds_free(char* text);

/* ---- ending a call ---------------------------------------------------------------------------- */

/* A call that may last takes a faultodds_cancel as the member `cancel` of its options. NULL is a call
 * that nothing ends.
 * A call that is ended returns FAULTODDS_CANCELLED, gives nothing, and leaves its handles usable: a
 * case keeps its evidence. One that has its answer by then gives it; faultodds_model_plan gives what
 * it has.
 *
 * The calls look now and then, every few milliseconds of work: 50 ms of processor time after it was
 * told to, at most, a call has ended (tests/limits).
 *
 * One faultodds_cancel may be given to any number of calls, and must outlive them. All functions of
 * it but faultodds_cancel_free may be called from any thread at any time. */
FAULTODDS_API faultodds_status faultodds_cancel_new(faultodds_cancel** cancel,
                                                    faultodds_error** error);
FAULTODDS_API void faultodds_cancel_free(faultodds_cancel* cancel);

/* Ends the calls that were given `cancel`, and those that are given it later. NULL does nothing, here
 * and below. */
FAULTODDS_API void faultodds_cancel_now(faultodds_cancel* cancel);

/* Ends them `milliseconds` from now, by the machine's steady clock; in place of a time given before. */
FAULTODDS_API void faultodds_cancel_after_ms(faultodds_cancel* cancel, uint64_t milliseconds);

/* As when new. */
FAULTODDS_API void faultodds_cancel_reset(faultodds_cancel* cancel);

/* What any call that may last can be told. Where a function takes `options`, NULL is all 0. */
typedef struct faultodds_call_options {
  size_t struct_size;             /* sizeof(faultodds_call_options) */
  const faultodds_cancel* cancel; /* ends the call; NULL = nothing does */
} faultodds_call_options;

/* ---- the one call ----------------------------------------------------------------------------- */

/* Assesses one case against one circuit and forgets both. `priors` may be NULL with length 0: the
 * shipped pack is used. On success *answer receives the assessment document and *error NULL; on
 * failure *answer receives NULL and *error the JSON object {"code", "message", "pointer"}. Free both
 * with faultodds_free. `error` may be NULL, `answer` may not. Safe from any thread. */
FAULTODDS_API faultodds_status faultodds_assess_json(const char* circuit, size_t circuit_len,
                                                     const char* case_document, size_t case_len,
                                                     const char* priors_or_null, size_t priors_len,
                                                     const faultodds_call_options* options,
                                                     char** answer, char** error);

/* ---- models ----------------------------------------------------------------------------------- */

/* How a circuit is loaded; what is NULL or 0 takes its default. */
typedef struct faultodds_model_options {
  size_t struct_size;        /* sizeof(faultodds_model_options) */
  uint64_t memory_budget;    /* bytes of inference tables, 0 = 1 GiB; for a circuit that needs more,
                                answers are approximate and say so (`method`) */
  const char* asset_class;   /* of the prior pack to use; NULL = none */
  size_t asset_class_len;
  /* A limit of 0 is the one of capi/README.md. */
  const faultodds_cancel* cancel; /* ends the loading */
  uint64_t search_steps;          /* of the searches of leak paths together */
  uint32_t sets_per_observation;  /* minimal sets of modes */
  uint32_t modes;                 /* failure modes of the circuit */
  uint32_t observations;          /* derived and hand-written */
  uint32_t reserved;              /* 0 */
} faultodds_model_options;

/* Reads and compiles a circuit document. `options` may be NULL. The caller frees *model with
 * faultodds_model_free. The documents are not kept. */
FAULTODDS_API faultodds_status faultodds_model_load(const char* circuit, size_t circuit_len,
                                                    const char* priors_or_null, size_t priors_len,
                                                    const faultodds_model_options* options,
                                                    faultodds_model** model,
                                                    faultodds_error** error);

/* The model may be freed while cases on it are open: they share it. */
FAULTODDS_API void faultodds_model_free(faultodds_model* model);

/* What a model numbers. */
typedef int32_t faultodds_kind;
enum { FAULTODDS_MODE = 1, FAULTODDS_OBSERVATION = 2, FAULTODDS_COMPONENT = 3 };

/* How many of a kind there are, 0 for a kind that is none of the above; and the id of one. Indices are
 * stable for one circuit document and library version. Ids live as long as the model; an index out
 * of range gives NULL. */
FAULTODDS_API uint32_t faultodds_model_count(const faultodds_model* model, faultodds_kind kind);
FAULTODDS_API const char* faultodds_model_id(const faultodds_model* model, faultodds_kind kind,
                                             uint32_t index);

/* Index of an id; FAULTODDS_INVALID_ARGUMENT when there is none. */
FAULTODDS_API faultodds_status faultodds_model_find(const faultodds_model* model,
                                                    faultodds_kind kind, const char* id,
                                                    size_t id_len, uint32_t* index,
                                                    faultodds_error** error);

/* The same of the outcomes of one observation. */
FAULTODDS_API uint32_t faultodds_model_outcome_count(const faultodds_model* model,
                                                     uint32_t observation);
FAULTODDS_API const char* faultodds_model_outcome_id(const faultodds_model* model,
                                                     uint32_t observation, uint32_t outcome);

/* What a model has done since it was loaded, and what it keeps. A plan is made once per pattern of
 * what is known and serves every case of that pattern; those unused longest go when the memory budget
 * needs it. */
typedef struct faultodds_model_counters {
  size_t struct_size;              /* sizeof(faultodds_model_counters) */
  uint64_t plans_made;             /* since it was loaded, as the next two */
  uint64_t plans_from_cache;       /* used once more */
  uint64_t plans_evicted;          /* for want of memory */
  uint64_t plans_kept;             /* now */
  uint64_t plan_bytes;             /* of those kept */
  uint64_t bytes;                  /* of everything that the model keeps: tables, plans, scratch space */
  uint64_t memory_budget;          /* bytes */
  /* Answers to single questions (an assessment asks several), by the method chosen: */
  uint64_t by_tree;                /* the tree of the whole circuit */
  uint64_t by_tables;              /* tables of a pattern seen before */
  uint64_t by_products;            /* products over failure modes, given the conditions */
  uint64_t by_careful_products;    /* the same with more digits */
  uint64_t by_junction_tree;       /* a tree of what the question needs */
  uint64_t by_bounded;             /* approximate, with the bound that the answer names */
} faultodds_model_counters;

/* Fills *counters. Any thread may call it while others assess; the numbers are then of slightly
 * different moments. */
FAULTODDS_API faultodds_status faultodds_model_read_counters(const faultodds_model* model,
                                                             faultodds_model_counters* counters,
                                                             faultodds_error** error);

/* What the circuit can show: its modes, observations with their minimal sets of modes, setup steps
 * and ambiguity groups, as a JSON document "faultodds-model/1". It lists all that defines the
 * network: of modes their sizes, states and priors, of observations limits, outcome matrix and
 * background, of sets from which sizes they show and with what probability in each state, of
 * conditions their factors. Free *document with faultodds_free. */
FAULTODDS_API faultodds_status faultodds_model_describe_json(const faultodds_model* model,
                                                             const faultodds_call_options* options,
                                                             char** document,
                                                             faultodds_error** error);

/* Of the same what a screen needs, a tenth of it or less: components, modes and `titles`; of observations
 * those that somebody can report, and those that the circuit's document gives a title; the cautions for
 * all work. An id of another observation says what it is. Free *document with faultodds_free. */
FAULTODDS_API faultodds_status faultodds_model_describe_screen_json(
    const faultodds_model* model, const faultodds_call_options* options, char** document,
    faultodds_error** error);

/* Assesses a case document against a loaded model. A case that does not say `"detail": "full"` is
 * answered with what a screen needs; words are in its `language`. The answer names one next step: where its `advice`
 * names a test, that test is the first of its `tests`, and the others follow by rank. Free *answer with
 * faultodds_free. Safe from any number of threads on one model. */
FAULTODDS_API faultodds_status faultodds_model_assess_json(const faultodds_model* model,
                                                           const char* case_document,
                                                           size_t case_len,
                                                           const faultodds_call_options* options,
                                                           char** answer,
                                                           faultodds_error** error);

/* What words of a complaint may mean, as an operator wrote them ("the arm comes down by itself between
 * houses"): a document "faultodds-proposals/1" with `proposals`, at most three, the likeliest first,
 * each {observation, outcome, score, because: the words that decided}; none where the words fit nothing
 * of this circuit. A person confirms one: it is no evidence before that. `language` is that of the text,
 * "en", "de", "es" or "fr"; empty: "en". The words of parts are those of the circuit's titles, `titles`
 * included. At most 10,000 bytes of text. Free *proposals with faultodds_free. Safe from any number of
 * threads on one model. */
FAULTODDS_API faultodds_status faultodds_model_propose_json(const faultodds_model* model,
                                                            const char* text, size_t text_len,
                                                            const char* language,
                                                            size_t language_len,
                                                            const faultodds_call_options* options,
                                                            char** proposals,
                                                            faultodds_error** error);

/* The part of the circuit that a case concerns, as SVG: the suspects, shaded with their figures, the leak
 * path of the likeliest, the port of the next test marked. Its rows are divided until it fits `width`
 * (px, 96 to the inch; 0: any), a screen of 360 or a page of 700. Parts are called as the circuit's
 * `titles` in `language` do; empty: as the document does. It holds no cautions: a program that shows it
 * shows those of the test before it. "" where the case concerns no part. Free *svg with faultodds_free.
 * Safe from any number of threads on one model. */
FAULTODDS_API faultodds_status faultodds_model_draw_svg(const faultodds_model* model,
                                                        const char* case_document, size_t case_len,
                                                        uint32_t width, const char* language,
                                                        size_t language_len,
                                                        const faultodds_call_options* options,
                                                        char** svg, faultodds_error** error);

/* ---- notes and records ------------------------------------------------------------------------ */

enum {
  FAULTODDS_NOTE_TEXT = 1, /* plain text, lines of 78 columns */
  FAULTODDS_NOTE_HTML = 2  /* one page that needs nothing else; what came from documents is escaped */
};

/* A note for the work order: what was observed, what is suspected and why, what to do next, with
 * the cautions before everything they belong to. `case_document` as for faultodds_model_assess_json;
 * `format` is one of the constants above. Free *note with faultodds_free. Safe from any number of
 * threads on one model. */
FAULTODDS_API faultodds_status faultodds_model_note(const faultodds_model* model,
                                                    const char* case_document, size_t case_len,
                                                    int32_t format,
                                                    const faultodds_call_options* options,
                                                    char** note, faultodds_error** error);

enum {
  FAULTODDS_PLAN_JSON = 1, /* a document "faultodds-plan/1" */
  FAULTODDS_PLAN_HTML = 2  /* a card to print, one page of A4 that needs nothing else, escaped */
};

/* The plan: the test that the advice names now, what it would name after each outcome, and at the end
 * of each branch what to replace, what verifies it, the risk that is left and the expected cost. Up
 * to four tests in a row; a branch is followed where it is reached in over 2 % of such cases, and
 * `left_out` says how probable the rest is. Its first node is the `test` of the advice; without a
 * complaint its `tree` is null. `case_document` as for faultodds_model_assess_json; `format` is one
 * of the constants above. A call that `cancel` ends gives what is ready, once its first node is:
 * nodes that were not asked say "cut": "time"; the most probable are asked first. Free *plan with
 * faultodds_free. Safe from any number of threads on one model. */
FAULTODDS_API faultodds_status faultodds_model_plan(const faultodds_model* model,
                                                    const char* case_document, size_t case_len,
                                                    int32_t format,
                                                    const faultodds_call_options* options,
                                                    char** plan, faultodds_error** error);

enum {
  FAULTODDS_RECORD_JSON = 1,      /* a document "faultodds-record/1" */
  FAULTODDS_RECORD_CSV = 2,       /* rows to append to a work-order file; none if nothing was opened */
  FAULTODDS_RECORD_CSV_HEADED = 3 /* the same below the header that begins such a file */
};

/* Closes a work order. `closing` is a document "faultodds-closing/1": `work_order`, `closed` and
 * optionally `opened` (days such as "2026-03-31"), `found` (a list of {component, mode, grade}: what
 * was worn or failed; without `mode` it was not sound and no more is known), `sound` (components
 * that were opened and found sound), `parts` ({component, part, quantity, cost}), `minutes`, `note`.
 * The record joins it with the complaint and the tests that the case holds from before any repair;
 * learning reads the rows back (`faultodds-priors learn`). An error in the case document has a
 * pointer that begins with "/case". Free *record with faultodds_free. Safe from any number of
 * threads on one model. */
FAULTODDS_API faultodds_status faultodds_model_close(const faultodds_model* model,
                                                     const char* case_document, size_t case_len,
                                                     const char* closing, size_t closing_len,
                                                     int32_t format,
                                                     const faultodds_call_options* options,
                                                     char** record, faultodds_error** error);

/* ---- cases ------------------------------------------------------------------------------------ */

/* Opens an empty case. The caller frees *new_case with faultodds_case_free. */
FAULTODDS_API faultodds_status faultodds_case_open(const faultodds_model* model,
                                                   faultodds_case** new_case,
                                                   faultodds_error** error);
FAULTODDS_API void faultodds_case_free(faultodds_case* the_case);

/* Adds an outcome by index. What is said twice counts once: the outcome, likelihood or reading that
 * was said of an observation before, with no repair since, adds nothing but a warning to the answer.
 * Where it was looked at again, say so by faultodds_case_observe_json with `again` or another `at`.
 * A different outcome of one observation adds to what is known of it. */
FAULTODDS_API faultodds_status faultodds_case_observe_outcome(faultodds_case* the_case,
                                                              uint32_t observation,
                                                              uint32_t outcome,
                                                              faultodds_error** error);

/* Adds a likelihood over the structural grades 0, 1, 2: three finite numbers >= 0, not all 0. */
FAULTODDS_API faultodds_status faultodds_case_observe_likelihood(faultodds_case* the_case,
                                                                 uint32_t observation,
                                                                 const double likelihood[3],
                                                                 faultodds_error** error);

/* Adds one entry of a case document's `observations` list, for example
 * {"observation":"static/valve.a","reading":{"leak_rate":"40 mL/min"}}; or says that components
 * were replaced by new ones: {"repaired":["relief_a"]}; or that a test cannot be made on this machine
 * and is not to be proposed: {"not_possible":"static/valve.a","reason":"no room for a gauge"}, which
 * faultodds_case_retract takes back. */
FAULTODDS_API faultodds_status faultodds_case_observe_json(faultodds_case* the_case,
                                                           const char* entry, size_t entry_len,
                                                           const faultodds_call_options* options,
                                                           faultodds_error** error);

/* Takes back all that was said of an observation; nothing happens if nothing was. */
FAULTODDS_API faultodds_status faultodds_case_retract(faultodds_case* the_case,
                                                      uint32_t observation,
                                                      faultodds_error** error);

/* Says that a setup step (an id from a test's `setup`) is done and costs nothing more. */
FAULTODDS_API faultodds_status faultodds_case_setup_done(faultodds_case* the_case, const char* step,
                                                         size_t step_len, faultodds_error** error);

/* Computes the posterior and the ranking from what the case now holds. On failure, and after every
 * later change of the case, the last assessment is gone: the functions below then return
 * FAULTODDS_INVALID_ARGUMENT. The evidence is kept. */
FAULTODDS_API faultodds_status faultodds_case_assess(faultodds_case* the_case,
                                                     const faultodds_call_options* options,
                                                     faultodds_error** error);

/* Assesses `count` cases of one model at once, as faultodds_case_assess does each, to the bit, but
 * faster: cases with evidence on the same observations are computed side by side. No case may occur
 * twice. `threads` is how many threads share the work, the caller's among them; 0 means 1.
 * `statuses`, if not NULL, has room for `count` and receives the status of each case. Returns
 * FAULTODDS_OK when every case was assessed; else the status of the first that was not, and an error
 * whose pointer begins with "/cases/" and its index. The others are assessed all the same. When the
 * call is ended, what was assessed before stays so; the statuses of the rest are FAULTODDS_CANCELLED. */
FAULTODDS_API faultodds_status faultodds_cases_assess(faultodds_case* const* cases, size_t count,
                                                      uint32_t threads,
                                                      const faultodds_call_options* options,
                                                      faultodds_status* statuses,
                                                      faultodds_error** error);

/* ---- results of faultodds_case_assess --------------------------------------------------------- */

/* One line of the ranking. */
typedef struct faultodds_ranked_test {
  size_t struct_size;       /* set by the caller to sizeof(faultodds_ranked_test) */
  uint32_t observation;     /* index */
  int32_t energised;        /* 1: needs power on or a load left up */
  double information_bits;  /* mutual information with all failure modes, bits */
  double cause_bits;        /* mutual information with the cause of the complaint, bits */
  double minutes;           /* to do it, setup not yet done included */
  double bits_per_minute;   /* what the order within a safety class rests on */
} faultodds_ranked_test;

/* The answer in one view. */
typedef struct faultodds_case_summary {
  size_t struct_size;    /* set by the caller to sizeof(faultodds_case_summary) */
  const char* method;    /* "exact", or the name of an approximation; lasts until the case is next
                            changed, assessed or freed */
  double error_bound;    /* the most by which a probability, a number of bits or the logarithm of the
                            evidence can be wrong; 0 when exact */
  double log_evidence;   /* natural logarithm of the probability (density, for readings) of the evidence */
  uint32_t cause_count;  /* observations whose causes are given; 0 when nothing abnormal was seen */
  uint32_t test_count;   /* tests that are ranked */
} faultodds_case_summary;

/* Fills *summary. */
FAULTODDS_API faultodds_status faultodds_case_read_summary(const faultodds_case* the_case,
                                                           faultodds_case_summary* summary,
                                                           faultodds_error** error);

/* Copies P(grade | evidence), three doubles per mode in mode order, into `grades`, which has room
 * for `capacity` doubles (>= 3 * mode count). *count receives the number written. */
FAULTODDS_API faultodds_status faultodds_case_posteriors(const faultodds_case* the_case,
                                                         double* grades, size_t capacity,
                                                         size_t* count, faultodds_error** error);

/* Why each abnormal symptom is as it is: first the complaint, then the others in the order of the
 * circuit. The complaint is the symptom seen first, or a test where no symptom is abnormal, or what a
 * case document's `focus` names. */
typedef struct faultodds_causes {
  size_t struct_size;        /* set by the caller to sizeof(faultodds_causes) */
  uint32_t observation;      /* whose causes they are, an index */
  uint32_t share_count;      /* groups of components that can cause it, each together */
  uint64_t component_count;  /* components of all those groups together */
  double by_design;          /* probability that it comes of what leaks although all is sound; */
  double elsewhere;          /* that its cause is nothing which the circuit document describes; */
  double nothing;            /* and that nothing is wrong: a false report */
} faultodds_causes;

/* Fills *causes with those of one observation, the complaint's at rank 0; `rank` is below `cause_count`. */
FAULTODDS_API faultodds_status faultodds_case_causes(const faultodds_case* the_case, uint32_t rank,
                                                     faultodds_causes* causes,
                                                     faultodds_error** error);

/* Copies the shares, most probable first: the probability of each group of components and, in `ends`,
 * where its components end in `components`; they begin where those of the group before end, and are
 * indices in ascending order. Group i is
 *     components[i == 0 ? 0 : ends[i - 1]] up to, not including, components[ends[i]].
 * With `by_design`, `elsewhere` and `nothing` the probabilities sum to 1. `probabilities` and `ends` have
 * room for `capacity` (>= share_count) each, `components` for `component_capacity` (>= component_count). */
FAULTODDS_API faultodds_status faultodds_case_shares(const faultodds_case* the_case, uint32_t rank,
                                                     double* probabilities, uint32_t* ends,
                                                     size_t capacity, uint32_t* components,
                                                     size_t component_capacity,
                                                     faultodds_error** error);

/* Fills *test with one of the ranked tests, best first by what they tell; `rank` is below `test_count`. No
 * advice is computed here: what it costs to be wrong, and so the test that the answer document puts
 * first, may name another. */
FAULTODDS_API faultodds_status faultodds_case_test(const faultodds_case* the_case, uint32_t rank,
                                                   faultodds_ranked_test* test,
                                                   faultodds_error** error);

/* The whole assessment as a document "faultodds-assessment/1", with advice, whose test is the first of
 * `tests`. Free *answer with faultodds_free. */
FAULTODDS_API faultodds_status faultodds_case_answer_json(const faultodds_case* the_case,
                                                          const faultodds_call_options* options,
                                                          char** answer, faultodds_error** error);

/* ---- prior packs and records ------------------------------------------------------------------- */

/* Told how far a long call is: rows read, or jobs replayed. Anything but 0 ends the call with
 * FAULTODDS_CANCELLED. Called on the thread that made the call. Must not throw. */
typedef int32_t (*faultodds_progress)(void* context, uint64_t done);

/* Given a piece of text that lives during the call only. Returns and runs likewise. */
typedef int32_t (*faultodds_write)(void* context, const char* text, size_t text_len);

/* CSV (RFC 4180), from a file or from memory: exactly one of path and text is not NULL. Files of
 * any size are read at constant memory. A path is in UTF-8, on Windows too. */
typedef struct faultodds_records {
  size_t struct_size; /* sizeof(faultodds_records) */
  const char* path;   /* of a file */
  size_t path_len;
  const char* text;   /* the records themselves */
  size_t text_len;
} faultodds_records;

/* What is NULL or 0 takes its default. */
typedef struct faultodds_learn_options {
  size_t struct_size;    /* sizeof(faultodds_learn_options) */
  const char* source;    /* id of these records; required. Merging counts it once */
  size_t source_len;
  const char* title;     /* of the pack */
  size_t title_len;
  const char* mapping;   /* "faultodds-records/1"; NULL = the columns bear our own field names */
  size_t mapping_len;
  const char* circuit;   /* circuit document whose own component types are known too */
  size_t circuit_len;
  const char* judgement; /* prior pack to start from; NULL = the shipped one */
  size_t judgement_len;
  double worth_jobs;     /* jobs that a pack without records is worth; 0 = 20 */
  int32_t no_pooling;    /* 1: every asset class stands by itself */
  int32_t through_circuit; /* 1: by expectation-maximisation through `circuit`, for one class of
                              machine: what was tested counts, and that records exist only because of
                              a complaint is corrected for. The pack can be learned on from, but not
                              merged */
  int32_t learn_outcomes;  /* 1: outcome statistics too. Not through the circuit, only leak-rate bands
                              and sizes of failure modes are learned, from leak rates in `tests`,
                              which can be merged; needs `circuit` */
  uint32_t threads;        /* through the circuit only; 0 = 1. The answer does not depend on it */
  faultodds_write reject; /* one CSV row for each row that is not used: line, offset, reason, detail,
                             record; cells are escaped */
  void* reject_context; /* given to `reject` */
  faultodds_progress progress; /* every 8 MiB or so */
  void* progress_context; /* given to `progress` */
  const faultodds_cancel* cancel; /* ends the call */
  uint32_t audit_orders;   /* work orders that *summary names for each failure mode they say something
                              of; 0 = no audit */
  uint32_t count_distinct; /* 1: *pack is CSV, the orders as they count through `circuit` */
} faultodds_learn_options;

/* Learns a prior pack from closed work orders and, if given, exposure. *pack receives the document,
 * which can be used as priors, merged and learned on from; *summary, if `summary` is not NULL,
 * "faultodds-records-summary/1", described in capi/documents/README.md, with its `audit`: which work
 * orders moved which mode. Through a circuit a mode is moved by tests and complaints of orders that do
 * not name it, too; these are not told. A row that cannot be used is no error; a file without a row
 * that can is FAULTODDS_INVALID_ARGUMENT, and there is no pack. Free both with faultodds_free. Safe from
 * any thread. */
FAULTODDS_API faultodds_status faultodds_priors_learn(const faultodds_records* orders,
                                                      const faultodds_records* exposure_or_null,
                                                      const faultodds_learn_options* options,
                                                      char** pack, char** summary,
                                                      faultodds_error** error);

/* One pack from those of several depots, two or more: what learning from all their records at once
 * gives. A source that is in two of them is an error, since it would count twice. Free *merged with
 * faultodds_free. */
FAULTODDS_API faultodds_status faultodds_priors_merge(const char* const* packs,
                                                      const size_t* lengths, size_t count,
                                                      const faultodds_call_options* options,
                                                      char** merged, faultodds_error** error);

/* What changed, on how many jobs, how sure: "faultodds-priors-diff/1" with `changes`, the largest
 * first, each {type, mode, asset_class, before, after: {not_sound, interval, jobs}, decibans, sure}.
 * `before` NULL is the shipped pack. Free *difference with faultodds_free. */
FAULTODDS_API faultodds_status faultodds_priors_diff_json(const char* before_or_null,
                                                          size_t before_len, const char* after,
                                                          size_t after_len,
                                                          const faultodds_call_options* options,
                                                          char** difference,
                                                          faultodds_error** error);

/* What is NULL or 0 takes its default. */
typedef struct faultodds_backtest_options {
  size_t struct_size;    /* sizeof(faultodds_backtest_options) */
  const char* mapping;   /* "faultodds-records/1" */
  size_t mapping_len;
  const char* before;    /* present pack; NULL = the shipped one */
  size_t before_len;
  const char* after;     /* pack offered; NULL = learned through the circuit as the replay goes */
  size_t after_len;
  const char* asset_class; /* of the machines */
  size_t asset_class_len;
  double worth_jobs;     /* jobs that a pack without records is worth; 0 = 20 */
  double isolated;       /* probability at which a cause counts as isolated; 0 = 0.9 */
  uint64_t most_jobs;    /* replayed, evenly spaced in time; 0 = all */
  uint32_t threads;      /* 0 = 1; the answer does not depend on it */
  faultodds_progress progress; /* jobs replayed */
  void* progress_context; /* given to `progress` */
  const faultodds_cancel* cancel; /* ends the call */
} faultodds_backtest_options;

/* Replays closed orders of one circuit in time order, without looking ahead, with two packs:
 * "faultodds-backtest/1" with `present` and `offered` {log_score, brier, rank, first_ranked, tests,
 * minutes, isolated, calibration}, `recorded` {tests, minutes}, `difference` with 90 % intervals, and
 * `verdict`: "better", "cannot_tell" or "worse", by the log score. Ten usable jobs at
 * least. Free *answer with faultodds_free. */
FAULTODDS_API faultodds_status faultodds_priors_backtest_json(
    const char* circuit, size_t circuit_len, const faultodds_records* orders,
    const faultodds_backtest_options* options, char** answer, faultodds_error** error);

#ifdef __cplusplus
}
#endif

#endif /* FAULTODDS_H */
