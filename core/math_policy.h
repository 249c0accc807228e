// How the functions of Boost.Math that the core calls report an error: by an exception that says
// which function, without the streams by which Boost puts the value into its message. Those are
// larger than all else in the WebAssembly module, and ask for an environment that it does not have.
#pragma once

#include <boost/math/policies/error_handling.hpp>
#include <stdexcept>

namespace boost::math::policies {

template <class T>
T user_domain_error(const char* function, const char*, const T&) {
  throw std::domain_error(function);
}
template <class T>
T user_pole_error(const char* function, const char*, const T&) {
  throw std::domain_error(function);
}
template <class T>
T user_overflow_error(const char* function, const char*, const T&) {
  throw std::overflow_error(function);
}
template <class T>
T user_evaluation_error(const char* function, const char*, const T&) {
  throw std::runtime_error(function);
}

}  // namespace boost::math::policies

namespace faultodds {

using MathPolicy = boost::math::policies::policy<
    boost::math::policies::promote_double<false>,
    boost::math::policies::domain_error<boost::math::policies::user_error>,
    boost::math::policies::pole_error<boost::math::policies::user_error>,
    boost::math::policies::overflow_error<boost::math::policies::user_error>,
    boost::math::policies::evaluation_error<boost::math::policies::user_error>>;

}  // namespace faultodds
