// Properties of pure water between 0 and 60 °C that solution chemistry needs.
#pragma once

namespace inkwane::bath {

/// Density in kg/L at `t` °C. G. S. Kell, J. Chem. Eng. Data 20(1), 1975; coefficients as they
/// stand in public source code that cites it.
[[nodiscard]] double water_density(double t);

/// Relative permittivity at `t` °C, 0 to 100. C. G. Malmberg, A. A. Maryott, J. Res. NBS 56(1),
/// 1956; coefficients as they stand in public source code that cites it.
[[nodiscard]] double water_permittivity(double t);

/// −log10 of the ion product of water (molal) at `t` °C. W. L. Marshall, E. U. Franck, J. Phys.
/// Chem. Ref. Data 10(2), 1981; coefficients from memory, checked in tests/published/bath_test.cpp.
[[nodiscard]] double water_pkw(double t);

/// Debye–Hückel constant A of log γ = −A z² √I at `t` °C: 0.509 at 25 °C (from memory; any textbook
/// of solution chemistry), carried to other temperatures with (εT)^(−3/2).
[[nodiscard]] double debye_hueckel(double t);

}  // namespace inkwane::bath
