#include "capi/engine/loaded_model.h"

#include <utility>

#include "capi/documents/circuit_document.h"
#include "capi/documents/circuit_reader.h"
#include "capi/documents/document.h"
#include "capi/documents/embedded.h"
#include "capi/documents/json.h"
#include "capi/documents/pack_reader.h"
#include "core/circuit/order.h"
#include "core/error.h"

namespace faultodds::engine {
namespace {

// The types and priors inside the library. A fault in them is ours and not the caller's.
template <typename Read>
auto shipped(std::string_view text, const char* name, Read read) {
  try {
    return read(documents::read_document(text));
  } catch (const Error& error) {
    if (error.code() == Code::cancelled) throw;
    throw Error(Code::internal, std::string(name) + " inside the library: " + error.pointer() +
                                    ": " + error.what());
  }
}

// The shipped pack speaks for the shipped types only: a type the circuit defines anew keeps the
// priors written with it.
diagnosis::Pack shipped_pack(const circuit::Description& description) {
  diagnosis::Pack pack =
      shipped(documents::kShippedPack, "the shipped prior pack", documents::read_pack);
  std::set<std::string_view> own;
  for (const circuit::ComponentType& type : description.types) own.insert(type.name);
  std::erase_if(pack.priors, [&](const diagnosis::PackPrior& p) { return own.count(p.type) != 0; });
  return pack;
}

}  // namespace

SharedModel load(const Load& what, At& at) {
  at = At::circuit;
  const auto catalogue =
      shipped(documents::kCatalogue, "the shipped catalogue", documents::read_catalogue);
  const documents::CircuitDocument document(what.circuit);
  circuit::Description description = documents::read_circuit(document, catalogue);
  circuit::Analysis analysis = document.said_of_author(
      [&] { return circuit::analyse_in_order(description, catalogue, what.limits); });
  documents::Titles titles = document.said_of_author(
      [&] { return documents::read_titles(document.json(), description, analysis); });
  at = At::priors;
  const diagnosis::Pack pack = what.priors
                                   ? documents::read_pack(documents::read_document(*what.priors))
                                   : shipped_pack(description);
  at = At::circuit;
  std::set<std::string> classes;
  for (const diagnosis::PackPrior& prior : pack.priors) {
    if (!prior.asset_class.empty()) classes.insert(prior.asset_class);
  }
  try {
    return std::make_shared<const LoadedModel>(LoadedModel{
        diagnosis::Model::compile(std::move(analysis), pack, what.asset_class, what.options),
        what.asset_class, std::move(classes), std::move(titles),
        circuit::in_order(std::move(description))});
  } catch (const Error& error) {
    if (error.code() == Code::invalid_priors) {
      at = At::priors;
      throw;
    }
    throw document.of_author(error);
  }
}

}  // namespace faultodds::engine
