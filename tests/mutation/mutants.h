// What mutated sources call: the operator as written, or another one where its mutant is the one in
// force. mutate.py writes the calls; no source of the library includes this.
//
// FAULTODDS_MUTANT in the environment is the number of the mutant in force, 0 or unset for none.
// With -1 none is in force, and the numbers of all that were reached are appended to the file
// FAULTODDS_MUTANTS_REACHED when the process ends.
#pragma once

#include <type_traits>

namespace mutants {

extern int in_force;
bool reached(int mutant);  // false

inline bool on(int mutant) {
  return __builtin_expect(in_force < 0, 0) ? reached(mutant) : mutant == in_force;
}

// Boundaries and negations of comparisons.
template <typename A, typename B>
bool less(int mutant, const A& a, const B& b) {
  return on(mutant) ? a <= b : a < b;
}
template <typename A, typename B>
bool less_equal(int mutant, const A& a, const B& b) {
  return on(mutant) ? a < b : a <= b;
}
template <typename A, typename B>
bool greater(int mutant, const A& a, const B& b) {
  return on(mutant) ? a >= b : a > b;
}
template <typename A, typename B>
bool greater_equal(int mutant, const A& a, const B& b) {
  return on(mutant) ? a > b : a >= b;
}
template <typename A, typename B>
bool equal(int mutant, const A& a, const B& b) {
  return (a == b) != on(mutant);
}
template <typename A, typename B>
bool unequal(int mutant, const A& a, const B& b) {
  return (a != b) != on(mutant);
}

// Arithmetic.
template <typename A, typename B>
auto plus(int mutant, A a, B b) {
  return on(mutant) ? a - b : a + b;
}
template <typename A, typename B>
auto minus(int mutant, A a, B b) {
  return on(mutant) ? a + b : a - b;
}
template <typename A, typename B>
auto times(int mutant, A a, B b) {
  return on(mutant) ? a / b : a * b;
}
template <typename A, typename B>
auto divided(int mutant, A a, B b) {
  return on(mutant) ? a * b : a / b;
}
template <typename A, typename B>
A& plus_assign(int mutant, A& a, B b) {
  return on(mutant) ? a -= b : a += b;
}
template <typename A, typename B>
A& minus_assign(int mutant, A& a, B b) {
  return on(mutant) ? a += b : a -= b;
}
template <typename A, typename B>
A& times_assign(int mutant, A& a, B b) {
  return on(mutant) ? a /= b : a *= b;
}
template <typename A, typename B>
A& divided_assign(int mutant, A& a, B b) {
  return on(mutant) ? a *= b : a /= b;
}

// Constants: 0 becomes 1, a whole number one more, another number its double.
template <typename A>
A constant(int mutant, A a) {
  if (!on(mutant)) return a;
  if constexpr (std::is_floating_point_v<A>) return a == 0 ? A{1} : a * 2;
  return static_cast<A>(a + 1);
}

template <int mutant, typename A>
const A& smaller(const A& a, const A& b) {
  return (b < a) != on(mutant) ? b : a;
}
template <int mutant, typename A>
const A& larger(const A& a, const A& b) {
  return (a < b) != on(mutant) ? b : a;
}

}  // namespace mutants
