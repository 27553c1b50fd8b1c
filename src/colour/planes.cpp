#include "colour/planes.hpp"

#include <algorithm>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "colour/planes.cpp"
#include <hwy/foreach_target.h>
// Highway's own order: this header after the one above.
#include <hwy/highway.h>

#include <inkwane/colour.hpp>

HWY_BEFORE_NAMESPACE();
namespace inkwane::colour::HWY_NAMESPACE {
namespace {

namespace hn = hwy::HWY_NAMESPACE;
using D = hn::ScalableTag<float>;
using V = hn::Vec<D>;
using M = hn::Mask<D>;
const D d;

HWY_INLINE V number(double value) {
  return hn::Set(d, static_cast<float>(value));
}

/// Cube root of t > 0: the exponent divided by three, then two steps of Halley; 2e-7 relative.
HWY_INLINE V cube_root(V t) {
  const hn::RebindToSigned<D> whole;
  const V bits = hn::ConvertTo(d, hn::BitCast(whole, t));
  V y = hn::BitCast(
      d, hn::Add(hn::ConvertTo(whole, hn::Mul(bits, number(1.0 / 3))), hn::Set(whole, 709921077)));
  for (int step = 0; step < 2; ++step) {
    const V y3 = hn::Mul(y, hn::Mul(y, y));
    y = hn::Mul(y, hn::Div(hn::MulAdd(number(2), t, y3), hn::MulAdd(number(2), y3, t)));
  }
  return y;
}

/// The function of ISO/CIE 11664-4, clause 4: as colour/lab.cpp.
HWY_INLINE V lab_f(V t) {
  const V below = number(216.0 / 24389.0);
  const V root = cube_root(hn::Max(t, below));
  const V line = hn::MulAdd(number(841.0 / 108.0), t, number(4.0 / 29.0));
  return hn::IfThenElse(hn::Gt(t, below), root, line);  // NaN goes the second way and stays
}

/// x⁷ / (x⁷ + 25⁷)
HWY_INLINE V saturation(V chroma) {
  const V s = hn::Mul(chroma, number(1.0 / 25));
  const V s2 = hn::Mul(s, s);
  const V s7 = hn::Mul(hn::Mul(s2, s2), hn::Mul(s2, s));
  return hn::Div(s7, hn::Add(s7, number(1)));
}

/// a b − c d, within two units in the last place, and of the right sign: the rounding of both
/// products is known exactly (Kahan with fused multiplication, else Dekker 1971 on halves).
HWY_INLINE V difference_of_products(V a, V b, V c, V e) {
  const V right = hn::Mul(c, e);
#if HWY_NATIVE_FMA
  const V lost = hn::NegMulAdd(c, e, right);  // right − c e
  return hn::Add(hn::MulSub(a, b, right), lost);
#else
  const auto split = [](V x, V& high, V& low) {
    const V t = hn::Mul(x, number(4097));  // 2¹² + 1
    high = hn::Sub(t, hn::Sub(t, x));
    low = hn::Sub(x, high);
  };
  const auto lost_of = [&split](V x, V y, V product) {  // x y − product
    V xh, xl, yh, yl;
    split(x, xh, xl), split(y, yh, yl);
    const V high = hn::Sub(hn::Mul(xh, yh), product);
    return hn::Add(hn::Add(hn::Add(high, hn::Mul(xh, yl)), hn::Mul(xl, yh)), hn::Mul(xl, yl));
  };
  const V left = hn::Mul(a, b);
  return hn::Add(hn::Sub(left, right), hn::Sub(lost_of(a, b, left), lost_of(c, e, right)));
#endif
}

/// exp(−x), x ≥ 0: power of two times a polynomial; 2e-6 relative, zero enough beyond 80.
HWY_INLINE V exp_minus(V x) {
  const hn::RebindToSigned<D> whole;
  const V e = hn::Mul(hn::Min(x, number(80)), number(-1.4426950408889634));  // log2(e)
  const auto power = hn::NearestInt(e);
  const V z = hn::Mul(hn::Sub(e, hn::ConvertTo(d, power)), number(0.6931471805599453));
  V sum = number(1.0 / 720);
  for (const double term : {1.0 / 120, 1.0 / 24, 1.0 / 6, 0.5, 1.0, 1.0})
    sum = hn::MulAdd(sum, z, number(term));
  return hn::Mul(sum, hn::BitCast(d, hn::ShiftLeft<23>(hn::Add(power, hn::Set(whole, 127)))));
}

/// sin 2Δθ of a mean hue (u, v) = (cos h, sin h): equation (16) and what (21) makes of it.
HWY_INLINE V sine_of_rotation(V u, V v) {
  // arccos² of the angle from 275° by its series in w = 1 − cos: 2 Σ (2 w)ⁿ / (n² (2n over n)).
  // Cut after n = 8 it is 3e-4 short at a right angle, where the exponential below is 2e-6.
  // From the sine below a right angle, where 1 − cos would be a difference of near equals.
  const V cosine =
      hn::MulAdd(u, number(0.08715574274765817), hn::Mul(v, number(-0.9961946980917455)));
  const V sine = hn::MulAdd(v, number(0.08715574274765817), hn::Mul(u, number(0.9961946980917455)));
  const V one_more = hn::Add(number(1), cosine);
  const V w = hn::IfThenElse(hn::Gt(cosine, hn::Zero(d)), hn::Div(hn::Mul(sine, sine), one_more),
                             hn::Sub(number(1), cosine));
  V series = number(512.0 / 823680);
  for (const double term :
       {256.0 / 168168, 128.0 / 33264, 64.0 / 6300, 32.0 / 1120, 16.0 / 180, 8.0 / 24, 2.0})
    series = hn::MulAdd(series, w, number(term));
  const V turn2 = hn::Mul(series, w);
  const V twice = hn::Mul(exp_minus(hn::Mul(turn2, number(5.25249016001879))),  // (180 / 25 π)²
                          number(1.0471975511965976));                          // 60°
  const V t2 = hn::Mul(twice, twice);
  V sum = number(1.0 / 362880);
  for (const double term : {-1.0 / 5040, 1.0 / 120, -1.0 / 6, 1.0})
    sum = hn::MulAdd(sum, t2, number(term));
  // (16) counts hues from 0 to 360°, so that just above 0° lies 275° away, not 85°.
  const M first_quarter = hn::And(hn::Gt(u, hn::Zero(d)), hn::Ge(v, hn::Zero(d)));
  return hn::IfThenElse(first_quarter, hn::Zero(d), hn::Mul(sum, twice));
}

/// T of equation (15), by multiple angles of (u, v).
HWY_INLINE V hue_weight(V u, V v) {
  const V two = number(2);
  const V u2 = hn::MulSub(hn::Mul(two, u), u, number(1)), v2 = hn::Mul(hn::Mul(two, u), v);
  const V u3 = hn::MulSub(u2, u, hn::Mul(v2, v)), v3 = hn::MulAdd(v2, u, hn::Mul(u2, v));
  const V u4 = hn::MulSub(hn::Mul(two, u2), u2, number(1)), v4 = hn::Mul(hn::Mul(two, u2), v2);
  V t = number(1);
  t = hn::MulAdd(u, number(-0.17 * 0.8660254037844387), t);  // cos, sin 30°
  t = hn::MulAdd(v, number(-0.17 * 0.5), t);
  t = hn::MulAdd(u2, number(0.24), t);
  t = hn::MulAdd(u3, number(0.32 * 0.9945218953682733), t);  // 6°
  t = hn::MulAdd(v3, number(-0.32 * 0.10452846326765347), t);
  t = hn::MulAdd(u4, number(-0.20 * 0.45399049973954675), t);  // 63°
  return hn::MulAdd(v4, number(-0.20 * 0.8910065241883679), t);
}

/// CIEDE2000 without angles: hue difference and mean hue from products of the two (a′, b) vectors.
/// Equation numbers of Sharma, Wu, Dalal (2005).
HWY_INLINE V delta_e(V L1, V a1, V b1, V L2, V a2, V b2) {
  const V zero = hn::Zero(d), half = number(0.5), tiny = number(1e-36);
  const V b1b1 = hn::Mul(b1, b1), b2b2 = hn::Mul(b2, b2);
  const V c_mean = hn::Mul(
      half, hn::Add(hn::Sqrt(hn::MulAdd(a1, a1, b1b1)), hn::Sqrt(hn::MulAdd(a2, a2, b2b2))));
  const V g = hn::NegMulAdd(half, hn::Sqrt(saturation(c_mean)), number(1.5));  // 1 + G, (4)

  // Which hue lies ahead. Exactly opposite hues: the one of the lower half circle counts as ahead
  // of the other, so that the mean hue is (h1 + h2) / 2.
  const V cross = hn::Mul(g, difference_of_products(a1, b2, a2, b1));
  const M upper = hn::Or(hn::Gt(b1, zero), hn::And(hn::Eq(b1, zero), hn::Gt(a1, zero)));
  const V opposite = hn::IfThenElse(upper, number(1), number(-1));
  const V ahead = hn::IfThenElse(hn::Eq(cross, zero), opposite, cross);

  const V rise = hn::Mul(g, hn::Sub(a2, a1));  // of a′
  a1 = hn::Mul(g, a1);
  a2 = hn::Mul(g, a2);
  const V c1 = hn::Sqrt(hn::MulAdd(a1, a1, b1b1)), c2 = hn::Sqrt(hn::MulAdd(a2, a2, b2b2));
  const V sum_C = hn::Add(c1, c2);
  const V dC = hn::Div(hn::MulAdd(rise, hn::Add(a1, a2), hn::Mul(hn::Sub(b2, b1), hn::Add(b1, b2))),
                       hn::Max(sum_C, tiny));  // (9), from the difference of the squares
  const V dot = hn::MulAdd(a1, a2, hn::Mul(b1, b2)), product = hn::Mul(c1, c2);
  const M acute = hn::Ge(dot, zero);

  // ΔH′ = 2 √(C1 C2) sin(Δh / 2): cross / √((C1 C2 + dot) / 2) below a right angle, and
  // √(2 (C1 C2 − dot)) above, so that neither is a difference of near equals. (11)
  const V square = hn::IfThenElse(acute, hn::Mul(half, hn::Add(product, dot)),
                                  hn::Mul(number(2), hn::Sub(product, dot)));
  const V root = hn::Sqrt(hn::Max(square, tiny));
  const V dH = hn::IfThenElse(acute, hn::Div(cross, root), hn::CopySign(root, ahead));

  // Mean hue, (14): along the sum of the hue vectors below a right angle, across their difference
  // above. Without weight where either is neutral, since then ΔH′ is 0.
  const V x1 = hn::Mul(a1, c2), y1 = hn::Mul(b1, c2), x2 = hn::Mul(a2, c1), y2 = hn::Mul(b2, c1);
  const V across_u = hn::CopySign(number(1), ahead);
  V u = hn::IfThenElse(acute, hn::Add(x1, x2), hn::Mul(across_u, hn::Sub(y2, y1)));
  V v = hn::IfThenElse(acute, hn::Add(y1, y2), hn::Mul(across_u, hn::Sub(x1, x2)));
  const V length2 = hn::MulAdd(u, u, hn::Mul(v, v));
  const V inverse = hn::Div(number(1), hn::Sqrt(hn::Max(length2, tiny)));
  u = hn::Mul(u, inverse);
  v = hn::Mul(v, inverse);

  const V mean_C = hn::Mul(half, sum_C);
  const V l50 = hn::MulSub(half, hn::Add(L1, L2), number(50));
  const V l50_2 = hn::Mul(l50, l50);
  const V sl = hn::MulAdd(number(0.015), hn::Div(l50_2, hn::Sqrt(hn::Add(number(20), l50_2))),
                          number(1));                                                    // (18)
  const V sc = hn::MulAdd(number(0.045), mean_C, number(1));                             // (19)
  const V sh = hn::MulAdd(hn::Mul(number(0.015), mean_C), hue_weight(u, v), number(1));  // (20)
  const V rt = hn::Mul(hn::Mul(number(-2), sine_of_rotation(u, v)),
                       hn::Sqrt(saturation(mean_C)));  // (17), (21)
  const V l = hn::Div(hn::Sub(L2, L1), sl), c = hn::Div(dC, sc), h = hn::Div(dH, sh);
  const V form = hn::MulAdd(l, l, hn::MulAdd(c, c, hn::MulAdd(h, h, hn::Mul(hn::Mul(rt, c), h))));
  // (22); rounding alone can take the form below zero. NaN stays NaN.
  return hn::Sqrt(hn::IfThenElse(hn::Lt(form, zero), zero, form));
}

}  // namespace

void to_lab(const std::array<float, 9>& to_xyz, const ConstPlanes& light, std::size_t n,
            const Planes& lab) {
  constexpr double kWhite[3] = {kWhiteD50.X, kWhiteD50.Y, kWhiteD50.Z};
  float m[9];
  for (std::size_t i = 0; i < 9; ++i) m[i] = to_xyz[i] / static_cast<float>(kWhite[i / 3]);
  const auto some = [&](V r, V g, V b, V& L, V& A, V& B) {
    V f[3];
    for (int k = 0; k < 3; ++k) {
      f[k] = lab_f(hn::MulAdd(
          hn::Set(d, m[3 * k]), r,
          hn::MulAdd(hn::Set(d, m[3 * k + 1]), g, hn::Mul(hn::Set(d, m[3 * k + 2]), b))));
    }
    L = hn::MulSub(number(116), f[1], number(16));
    A = hn::Mul(number(500), hn::Sub(f[0], f[1]));
    B = hn::Mul(number(200), hn::Sub(f[1], f[2]));
  };
  V L, A, B;
  std::size_t i = 0;
  for (; i + hn::Lanes(d) <= n; i += hn::Lanes(d)) {
    some(hn::LoadU(d, light[0] + i), hn::LoadU(d, light[1] + i), hn::LoadU(d, light[2] + i), L, A,
         B);
    hn::StoreU(L, d, lab[0] + i);
    hn::StoreU(A, d, lab[1] + i);
    hn::StoreU(B, d, lab[2] + i);
  }
  if (i == n) return;
  HWY_ALIGN float rest[3][hn::MaxLanes(d)] = {};
  for (int k = 0; k < 3; ++k) std::copy(light[k] + i, light[k] + n, rest[k]);
  some(hn::Load(d, rest[0]), hn::Load(d, rest[1]), hn::Load(d, rest[2]), L, A, B);
  hn::Store(L, d, rest[0]);
  hn::Store(A, d, rest[1]);
  hn::Store(B, d, rest[2]);
  for (int k = 0; k < 3; ++k) std::copy_n(rest[k], n - i, lab[k] + i);
}

void ciede2000(const ConstPlanes& one, const ConstPlanes& two, std::size_t n, float* out) {
  std::size_t i = 0;
  for (; i + hn::Lanes(d) <= n; i += hn::Lanes(d)) {
    const V dE =
        delta_e(hn::LoadU(d, one[0] + i), hn::LoadU(d, one[1] + i), hn::LoadU(d, one[2] + i),
                hn::LoadU(d, two[0] + i), hn::LoadU(d, two[1] + i), hn::LoadU(d, two[2] + i));
    hn::StoreU(dE, d, out + i);
  }
  if (i == n) return;
  HWY_ALIGN float rest[6][hn::MaxLanes(d)] = {};
  for (int k = 0; k < 3; ++k) {
    std::copy(one[k] + i, one[k] + n, rest[k]);
    std::copy(two[k] + i, two[k] + n, rest[k + 3]);
  }
  hn::Store(delta_e(hn::Load(d, rest[0]), hn::Load(d, rest[1]), hn::Load(d, rest[2]),
                    hn::Load(d, rest[3]), hn::Load(d, rest[4]), hn::Load(d, rest[5])),
            d, rest[0]);
  std::copy_n(rest[0], n - i, out + i);
}

}  // namespace inkwane::colour::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace inkwane::colour {

HWY_EXPORT(to_lab);
HWY_EXPORT(ciede2000);

void to_lab_planes(const std::array<float, 9>& to_xyz, const ConstPlanes& light, std::size_t n,
                   const Planes& lab) {
  HWY_DYNAMIC_DISPATCH(to_lab)(to_xyz, light, n, lab);
}

void ciede2000_planes(const ConstPlanes& one, const ConstPlanes& two, std::size_t n, float* out) {
  HWY_DYNAMIC_DISPATCH(ciede2000)(one, two, n, out);
}

}  // namespace inkwane::colour
#endif  // HWY_ONCE
