// The loops of lanes.h for a number of lanes, those for many cloned for wider vectors. Of
// propagation.cpp alone, in which all of it must be seen to be inlined.
#pragma once

#include <cstddef>
#include <cstdint>

#include "core/network/junction_tree.h"
#include "core/network/lanes.h"

namespace faultodds::network {
namespace {

template <std::size_t Lanes>
struct Kernel {
  template <typename Place>
  static void multiply_by(const Place* map, const double* factor, std::size_t n, double* value) {
    lanes::multiply_by<Lanes>(map, factor, n, value);
  }
  template <typename Place>
  static void add_by(const Place* map, const double* value, std::size_t n, double* sum,
                     std::size_t cells) {
    lanes::add_by<Lanes>(map, value, n, sum, cells);
  }
  static void sum_segments(const std::uint32_t* bound, const double* value, const double* before,
                           std::size_t cells, double* up, double* ratio, double* largest) {
    lanes::sum_segments<Lanes>(bound, value, before, cells, up, ratio, largest);
  }
  static void weigh(const std::uint32_t* bound, const double* value, const double* up,
                    const double* belief, std::size_t cells, double* entry) {
    lanes::weigh_segments<Lanes, false>(bound, value, up, belief, cells, entry);
  }
  static void weigh_shared(const std::uint32_t* bound, const double* value, const double* up,
                           const double* belief, std::size_t cells, double* entry) {
    lanes::weigh_segments<Lanes, true>(bound, value, up, belief, cells, entry);
  }
};

FAULTODDS_LANE_CLONES void multiply_by_many(const std::uint16_t* map, const double* factor,
                                            std::size_t n, double* value) {
  lanes::multiply_by<kLanes>(map, factor, n, value);
}
FAULTODDS_LANE_CLONES void add_by_many(const std::uint16_t* map, const double* value, std::size_t n,
                                       double* sum, std::size_t cells) {
  lanes::add_by<kLanes>(map, value, n, sum, cells);
}
FAULTODDS_LANE_CLONES void multiply_by_many(const std::uint32_t* map, const double* factor,
                                            std::size_t n, double* value) {
  lanes::multiply_by<kLanes>(map, factor, n, value);
}
FAULTODDS_LANE_CLONES void add_by_many(const std::uint32_t* map, const double* value, std::size_t n,
                                       double* sum, std::size_t cells) {
  lanes::add_by<kLanes>(map, value, n, sum, cells);
}
FAULTODDS_LANE_CLONES void sum_segments_many(const std::uint32_t* bound, const double* value,
                                             const double* before, std::size_t cells, double* up,
                                             double* ratio, double* largest) {
  lanes::sum_segments<kLanes>(bound, value, before, cells, up, ratio, largest);
}
FAULTODDS_LANE_CLONES void weigh_many(const std::uint32_t* bound, const double* value,
                                      const double* up, const double* belief, std::size_t cells,
                                      double* entry) {
  lanes::weigh_segments<kLanes, false>(bound, value, up, belief, cells, entry);
}
FAULTODDS_LANE_CLONES void weigh_shared_many(const std::uint32_t* bound, const double* value,
                                             const double* up, const double* belief,
                                             std::size_t cells, double* entry) {
  lanes::weigh_segments<kLanes, true>(bound, value, up, belief, cells, entry);
}

template <>
struct Kernel<kLanes> {
  template <typename Place>
  static void multiply_by(const Place* map, const double* factor, std::size_t n, double* value) {
    multiply_by_many(map, factor, n, value);
  }
  template <typename Place>
  static void add_by(const Place* map, const double* value, std::size_t n, double* sum,
                     std::size_t cells) {
    add_by_many(map, value, n, sum, cells);
  }
  static constexpr auto sum_segments = sum_segments_many;
  static constexpr auto weigh = weigh_many;
  static constexpr auto weigh_shared = weigh_shared_many;
};

}  // namespace

}  // namespace faultodds::network
