// Simpson's rule with many panels, for checks of quadratures that it shares no code with.
#pragma once

template <typename Integrand>
double simpson(const Integrand& integrand, double low, double high) {
  constexpr int kPanels = 100000;
  const double width = (high - low) / kPanels;
  double sum = integrand(low) + integrand(high);
  for (int i = 1; i < kPanels; ++i) sum += (i % 2 == 1 ? 4 : 2) * integrand(low + i * width);
  return sum * width / 3;
}
