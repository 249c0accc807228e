#include "capi/documents/plan_writer.h"

#include "capi/documents/advice_writer.h"
#include "capi/documents/assessment_writer.h"
#include "capi/documents/json_text.h"
#include "core/circuit/cautions.h"

namespace faultodds::documents {
namespace {

using circuit::Analysis;
using circuit::Observation;
using diagnosis::Plan;
using diagnosis::PlanNode;

void write_node(JsonText& out, const Analysis& analysis, const Plan& plan, std::size_t at);

void write_test(JsonText& out, const Analysis& analysis, const Plan& plan, const PlanNode& node) {
  const Observation& test = analysis.observations[*node.test];
  out.list("cautions", test.cautions)
      .member("test", test.id)
      .member("title", test.title)
      .member("energised", test.energised);
  if (node.again) out.member("again", true);
  if (node.contradicts) out.member("contradicts", true);
  out.member("minutes", node.minutes);
  write_bring(out, test);
  write_limits(out, test);
  out.key("branches").begin_list();
  for (const PlanNode::Branch& branch : node.branches) {
    out.begin_object()
        .member("outcome", test.outcomes[branch.outcome])
        .member("probability", branch.probability)
        .key("then");
    if (branch.to) {
      write_node(out, analysis, plan, *branch.to);
    } else {
      out.null();
    }
    out.end_object();
  }
  out.end_list();
}

void write_node(JsonText& out, const Analysis& analysis, const Plan& plan, std::size_t at) {
  const PlanNode& node = plan.nodes[at];
  out.begin_object().member("reached", node.reached);
  if (node.cut != PlanNode::Cut::none) out.member("cut", cut_name(node.cut));
  if (node.test) {
    write_test(out, analysis, plan, node);
  } else if (node.repair) {
    out.key("replace");
    write_repair(out, analysis, *node.repair);
    write_verify(out, analysis, node.verify);
  }
  out.end_object();
}

}  // namespace

const char* cut_name(PlanNode::Cut cut) {
  switch (cut) {
    case PlanNode::Cut::depth:
      return "depth";
    case PlanNode::Cut::time:
      return "time";
    case PlanNode::Cut::limit:
      return "limit";
    case PlanNode::Cut::none:
      break;
  }
  return "";
}

std::string write_plan(const diagnosis::Model& model, const Plan* plan, const Asset& asset) {
  const Analysis& analysis = model.analysis();
  JsonText out;
  out.begin_object()
      .member("format", "faultodds-plan/1")
      .member("circuit", analysis.id)
      .list("cautions", circuit::general_cautions());
  write_asset(out, asset);
  if (plan == nullptr) {
    out.key("complaint").null().key("tree").null().end_object();
    return out.take();
  }
  out.member("complaint", analysis.observations[plan->complaint].id)
      .member("currency", plan->currency)
      .member("come_back", plan->come_back);
  if (plan->approximate > 0) out.member("approximate", plan->approximate);
  out.member("left_out", plan->left_out);
  write_bring_list(out, plan->bring);
  out.key("parts").begin_list();
  for (const diagnosis::PartNeeded& part : plan->parts) {
    out.begin_object()
        .member("component", analysis.components[part.component].id)
        .member("probability", part.probability)
        .end_object();
  }
  out.end_list();
  write_not_possible(out, analysis, plan->not_possible);
  out.list("warnings", plan->warnings).key("tree");
  write_node(out, analysis, *plan, 0);
  out.end_object();
  return out.take();
}

}  // namespace faultodds::documents
