/* faultodds_network: discrete Bayesian networks in general, of hydraulics or not: posteriors of every
 * variable, exact. The engine below faultodds.h, which has the conventions that hold here too; a
 * program that only asks about circuits needs nothing of this header.
 */
#ifndef FAULTODDS_NETWORK_H
#define FAULTODDS_NETWORK_H

#include "faultodds.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Formats: BIF 0.15 (Cozman 1998) and its XML form, XMLBIF 0.3. Text is UTF-8; XMLBIF may declare
 * another encoding and its document type, but no entities, and nothing outside the text is read.
 * Rows of a table that sum to 1 within 1e-6 are rescaled to sum to 1. A message about a text begins
 * with "line 12: "; the pointer of the error is empty. A library built without Expat, as that for
 * Windows is, refuses XMLBIF. */
typedef int32_t faultodds_network_format;
enum { FAULTODDS_BIF = 1, FAULTODDS_XMLBIF = 2 };

typedef struct faultodds_network faultodds_network; /* a compiled network; immutable, shared */
typedef struct faultodds_network_case faultodds_network_case; /* evidence on one; one thread at a
                                                                 time */

/* How a network is loaded; what is 0 takes its default. */
typedef struct faultodds_network_options {
  size_t struct_size;             /* sizeof(faultodds_network_options) */
  uint64_t memory_budget;         /* bytes; 0 = 1 GiB: neither the tables of the text nor the inference
                                     tables may need more, each by itself; else
                                     FAULTODDS_LIMIT_EXCEEDED and a message with the bytes */
  const faultodds_cancel* cancel; /* ends the loading */
} faultodds_network_options;

/* Reads and compiles a network. `options` may be NULL. Other limits: 64 MiB of text, 100,000 variables,
 * of one variable 65,535 states and 64 parents. The caller frees *network with
 * faultodds_network_free. The text is not kept. */
FAULTODDS_API faultodds_status faultodds_network_load(const char* text, size_t text_len,
                                                      faultodds_network_format format,
                                                      const faultodds_network_options* options,
                                                      faultodds_network** network,
                                                      faultodds_error** error);

/* The network may be freed while cases on it are open: they share it. */
FAULTODDS_API void faultodds_network_free(faultodds_network* network);

/* Counts and names; indices are in the order of the text. Names live as long as the network; an
 * index out of range gives NULL or 0. */
FAULTODDS_API uint32_t faultodds_network_variable_count(const faultodds_network* network);
FAULTODDS_API const char* faultodds_network_variable_name(const faultodds_network* network,
                                                          uint32_t variable);
FAULTODDS_API uint32_t faultodds_network_state_count(const faultodds_network* network,
                                                     uint32_t variable);
FAULTODDS_API const char* faultodds_network_state_name(const faultodds_network* network,
                                                       uint32_t variable, uint32_t state);
/* Sum of the state counts: the number of posteriors that faultodds_network_query gives. */
FAULTODDS_API size_t faultodds_network_posterior_count(const faultodds_network* network);

/* Index of a name; FAULTODDS_INVALID_ARGUMENT when there is none. */
FAULTODDS_API faultodds_status faultodds_network_find_variable(const faultodds_network* network,
                                                               const char* name, size_t name_len,
                                                               uint32_t* variable,
                                                               faultodds_error** error);
FAULTODDS_API faultodds_status faultodds_network_find_state(const faultodds_network* network,
                                                            uint32_t variable, const char* name,
                                                            size_t name_len, uint32_t* state,
                                                            faultodds_error** error);

/* What a network costs: time goes with the entries, memory is counted in bytes. */
typedef struct faultodds_network_statistics {
  size_t struct_size;     /* set by the caller to sizeof(faultodds_network_statistics) */
  uint64_t cliques;       /* of the junction tree */
  uint64_t entries;       /* clique entries that a query goes through: combinations of states that can occur, and
                             all of large cliques where many can, of which no list is kept */
  double dense_entries;   /* what they would be with no impossible one left out */
  double largest_clique;  /* dense entries of the largest clique */
  uint64_t bytes;         /* of the network, shared by all who query it */
  uint64_t query_bytes;   /* more for each open case, and for each query made at the same time */
} faultodds_network_statistics;

/* Fills *statistics. */
FAULTODDS_API faultodds_status faultodds_network_read_statistics(
    const faultodds_network* network, faultodds_network_statistics* statistics,
    faultodds_error** error);

/* What is known of one variable: that it is in a state, or a likelihood over its states. */
typedef struct faultodds_network_evidence {
  size_t struct_size;        /* sizeof(faultodds_network_evidence), the same all through an array */
  uint32_t variable;         /* index */
  int32_t state;             /* index; -1: `likelihood` says what is known */
  const double* likelihood;  /* per state a finite number >= 0, not all 0; NULL with a state */
  size_t likelihood_count;   /* state count of the variable; 0 with a state */
} faultodds_network_evidence;

/* Posteriors of all variables given all of `evidence` (may be NULL with count 0), concatenated in
 * variable order into `posteriors`, which has room for `capacity` doubles
 * (>= faultodds_network_posterior_count). *written receives their number. `posteriors` may be NULL
 * with capacity 0: then only *log_evidence is computed, the natural logarithm of the probability of
 * the evidence. Entries on the same variable multiply. Safe from any number of threads on one
 * network; once as many queries as are made at the same time were answered, it allocates nothing.
 *
 * Impossible evidence is FAULTODDS_CONFLICTING_EVIDENCE with a message that names variables that
 * conflict, none of which can be left out; it is never a posterior of NaN. Evidence that is merely
 * improbable, however much, is answered. */
FAULTODDS_API faultodds_status faultodds_network_query(const faultodds_network* network,
                                                       const faultodds_network_evidence* evidence,
                                                       size_t count,
                                                       const faultodds_call_options* options,
                                                       double* posteriors,
                                                       size_t capacity, size_t* written,
                                                       double* log_evidence,
                                                       faultodds_error** error);

/* A case keeps evidence between calls and has memory of its own: after opening, nothing below
 * allocates unless it fails. The caller frees *new_case with faultodds_network_case_free. */
FAULTODDS_API faultodds_status faultodds_network_case_open(const faultodds_network* network,
                                                           faultodds_network_case** new_case,
                                                           faultodds_error** error);
FAULTODDS_API void faultodds_network_case_free(faultodds_network_case* the_case);

/* Adds to what is known. */
FAULTODDS_API faultodds_status faultodds_network_case_observe(
    faultodds_network_case* the_case, const faultodds_network_evidence* evidence,
    faultodds_error** error);

/* Takes back all that was said of a variable; nothing happens if nothing was. */
FAULTODDS_API faultodds_status faultodds_network_case_retract(faultodds_network_case* the_case,
                                                              uint32_t variable,
                                                              faultodds_error** error);

/* Computes the posteriors from what the case now holds, and *log_evidence as above. On failure, and
 * after every later change of the case, the posteriors are gone: the functions below then return
 * FAULTODDS_INVALID_ARGUMENT. The evidence is kept. */
FAULTODDS_API faultodds_status faultodds_network_case_solve(faultodds_network_case* the_case,
                                                            const faultodds_call_options* options,
                                                            double* log_evidence,
                                                            faultodds_error** error);

/* Copies the posterior of one variable (capacity >= its state count), or of all in variable order
 * (capacity >= faultodds_network_posterior_count). *written receives the number of doubles. */
FAULTODDS_API faultodds_status faultodds_network_case_posterior(
    const faultodds_network_case* the_case, uint32_t variable, double* posterior, size_t capacity,
    size_t* written, faultodds_error** error);
FAULTODDS_API faultodds_status faultodds_network_case_posteriors(
    const faultodds_network_case* the_case, double* posteriors, size_t capacity, size_t* written,
    faultodds_error** error);

#ifdef __cplusplus
}
#endif

#endif /* FAULTODDS_NETWORK_H */
