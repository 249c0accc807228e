// Steady oil flow in a network of leaks, passages, checks and reliefs, with one actuator at most,
// by Newton's method: what the decision benchmark's machines do. The flow of every link grows with
// the pressure across it, so the pressures are where a convex function is least, and Newton's
// method with a search along each step on that function finds them from anywhere. It knows no
// circuit, no failure modes and nothing of the engine; pressures are in bar above the tank's, flows
// in mL/min, areas in cm2.
#pragma once

#include <cstddef>
#include <vector>

namespace faultodds::benchmark {

enum class Law {
  laminar,  // a clearance: flow proportional to the pressure across it
  orifice,  // a scored seat or a bore: proportional to its root
  check,    // an orifice from -> to, nothing back
  relief,   // nothing up to `setting` from -> to, nothing back
};

struct Link {
  std::size_t from = 0, to = 0;  // nodes
  Law law = Law::laminar;
  double size = 0;     // mL/min at 100 bar; of a relief, mL/min per bar above its setting
  double setting = 0;  // relief only
};

// A piston between two nodes: `contracting` loses area_c x speed, `expanding` takes area_e x speed,
// and p_c area_c - p_e area_e = force. The expanding side cannot be pulled below the tank's
// pressure: it fills with vapour instead.
struct Piston {
  std::size_t contracting = 0, expanding = 0;
  double area_c = 0, area_e = 0;  // cm2
  double force = 0;               // bar cm2; negative where the load opposes the motion
};

class LeakNetwork {
 public:
  explicit LeakNetwork(std::size_t nodes) : held_(nodes, false), pressure_(nodes, 0.0) {}

  void add(const Link& link) { links_.push_back(link); }
  void hold(std::size_t node, double pressure);  // by a pump, a reservoir, an open port
  void inject(std::size_t node, double flow);    // by a pump of that flow
  void set_piston(const Piston& piston) {
    piston_ = piston;
    has_piston_ = true;
  }

  // Throws std::runtime_error where Newton's method does not settle.
  void solve();

  double pressure(std::size_t node) const { return pressure_[node]; }
  double speed() const { return speed_; }  // of the piston, cm/min
  // Net flow out of a node through links, mL/min.
  double outflow(std::size_t node) const;
  double flow(const Link& link) const;
  const std::vector<Link>& links() const { return links_; }

 private:
  struct Value {
    double flow = 0, slope = 0;
    double content = 0;  // integral of the flow over the difference of pressure
  };
  static Value value(const Link& link, double difference);

  std::vector<Link> links_;
  std::vector<bool> held_;
  std::vector<double> pressure_, injected_;
  Piston piston_;
  bool has_piston_ = false;
  double speed_ = 0;
};

}  // namespace faultodds::benchmark
