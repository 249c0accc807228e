#include "capi/documents/plan_writer.h"

#include "capi/documents/advice_writer.h"
#include "capi/documents/assessment_writer.h"
#include "capi/documents/json_text.h"
#include "core/circuit/cautions.h"
#include "core/circuit/kinds.h"
#include "core/reading/units.h"

namespace faultodds::documents {
namespace {

using circuit::Analysis;
using circuit::Observation;
using diagnosis::Plan;
using diagnosis::PlanNode;

struct Writing {
  const Words& words;
  const OwnCautions& own;
  const Plan& plan;
};

void write_node(JsonText& out, const Writing& of, std::size_t at);

void write_test(JsonText& out, const Writing& of, const PlanNode& node) {
  const Observation& test = of.words.analysis().observations[*node.test];
  out.list("cautions", of.words.cautions(test.cautions)).key("caution_ids").begin_list();
  for (const std::string& caution : test.cautions) out.value(of.own.id_of(caution));
  out.end_list()
      .member("test", test.id)
      .member("title", of.words.observation(test))
      .member("kind", circuit::kind_name(test.kind))
      .member("energised", test.energised);
  if (node.again) out.member("again", true);
  if (node.contradicts) out.member("contradicts", true);
  out.member("minutes", node.minutes);
  if (test.test_pressure) {
    out.member("test_pressure", reading::format_pressure(*test.test_pressure));
  }
  write_bring(out, test);
  write_limits(out, test);
  out.key("branches").begin_list();
  for (const PlanNode::Branch& branch : node.branches) {
    out.begin_object()
        .member("outcome", test.outcomes[branch.outcome])
        .member("probability", branch.probability)
        .key("then");
    if (branch.to) {
      write_node(out, of, *branch.to);
    } else {
      out.null();
    }
    out.end_object();
  }
  out.end_list();
}

void write_node(JsonText& out, const Writing& of, std::size_t at) {
  const PlanNode& node = of.plan.nodes[at];
  out.begin_object().member("reached", node.reached);
  if (node.cut != PlanNode::Cut::none) out.member("cut", cut_name(node.cut));
  if (node.test) {
    write_test(out, of, node);
  } else if (node.repair) {
    out.key("replace");
    write_repair(out, of.words.analysis(), *node.repair);
    write_verify(out, of.words, node.verify);
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

std::string write_plan(const Words& words, const Plan* plan, const Asset& asset) {
  const Analysis& analysis = words.analysis();
  JsonText out;
  out.begin_object()
      .member("format", "faultodds-plan/1")
      .member("circuit", analysis.id)
      .list("cautions", words.cautions(circuit::general_cautions()));
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
  write_not_possible(out, words, plan->not_possible);
  write_warnings(out, plan->warnings, words);
  out.key("tree");
  write_node(out, {words, OwnCautions(analysis), *plan}, 0);
  out.end_object();
  return out.take();
}

}  // namespace faultodds::documents
