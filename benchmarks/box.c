/* The balance of a single-glazed box in plain C, to time the compiled loop of shelter/kernel.py against.

The same equations in the same order for the same parts: one sheet, one wall column, freezing soil, leaves, dew, snow, a lid by schedule.  Not
here: a second sheet, opaque roof, water, fleece, room, arm.  FIELDS are the names of parts.Params, in their order. */
#include <math.h>
#include <stddef.h>

typedef struct { double FIELDS; } params;
typedef struct { double aa, ar, av, ra, rr, rv, va, vr, vv, a, r, v, d, k; } zone;
enum { OUTER, INNER, AIR, STAR, VAPOUR, AIR2, STAR2, VAPOUR2, LEAF, FLEECE, WATER, SKIN, WALL_SKIN, ROOF_SKIN, DEW, SNOW, OPENING, RULE_ON };
enum { MOST = 32, CP = 1006 };
static const double SIGMA = 5.670374e-8, VAPORISE = 2.5e6, FUSION = 3.34e5, FREEZE = 273.15, MUSHY = 0.8, NEAR = 0.3;
static double table[7042], roots[6402];

static inline double least(double a, double b) { return a < b ? a : b; }
static inline double most(double a, double b) { return a > b ? a : b; }
static inline double root4(double x) { return sqrt(sqrt(x)); }
static inline double saturation(double t) { return 610.8 * exp(17.27 * (t - 273.15) / (t - 35.85)); }
static inline double radiation(double a, double b) { return SIGMA * (a * a + b * b) * (a + b); }

void prepare(void) {
    for (int i = 0; i < 7042; i++) table[i] = saturation(180.0 + i / 32.0);
    for (int i = 0; i < 6402; i++) roots[i] = cbrt(i / 32.0);
}

static inline double near(double t, double *slope) {
    double place = least(most((t - 180.0) * 32.0, 0.0), 7039.0);
    int at = (int)place;
    double step = table[at + 1] - table[at];
    *slope = step * 32.0;
    return table[at] + (place - at) * step;
}

static inline double film_up(double surface, double air, double tilt) {
    double warm = surface - air, place = least(fabs(warm) * 32.0, 6400.0);
    int at = (int)place;
    double cube = roots[at] + (place - at) * (roots[at + 1] - roots[at]);
    return warm * tilt > 0.0 ? 9.482 * cube / (7.238 - fabs(tilt)) : 1.810 * cube / (1.382 + fabs(tilt));
}

static inline double vent(double area, double in, double out, double wind, double height) {
    return 0.5 * area * 0.65 * sqrt(2.0 * 9.81 * fabs(in - out) / out * height / 4.0 + 0.10 * wind * wind);
}

static inline zone add(zone z, double air, double ray, double vap, double rest, double source, double sat, double slope, double at) {
    double bent = vap * slope, d = air + ray + bent + rest, k = source + bent * at - vap * sat, inverse = 1.0 / d;
    double air_d = air * inverse, ray_d = ray * inverse, vap_d = vap * inverse, k_d = k * inverse;
    z.aa += air - air * air_d; z.ar -= air * ray_d; z.av -= air * vap_d; z.ra -= ray * air_d; z.rr += ray - ray * ray_d; z.rv -= ray * vap_d;
    z.va -= bent * air_d; z.vr -= bent * ray_d; z.vv += vap - bent * vap_d;
    z.a += air * k_d; z.r += ray * k_d; z.v += vap * sat - bent * at + bent * k_d; z.d = d; z.k = k;
    return z;
}

static double soil_heat(double temp, double thawed, double frozen, double latent) {
    double t = temp - FREEZE;
    if (t >= 0.0) return thawed * t;
    if (t >= -MUSHY) return (latent / MUSHY + 0.5 * (thawed + frozen)) * t;
    return -latent - 0.5 * (thawed + frozen) * MUSHY + frozen * (t + MUSHY);
}

static double soil_temp(double heat, double thawed, double frozen, double latent) {
    double edge = -latent - 0.5 * (thawed + frozen) * MUSHY;
    if (heat >= 0.0) return FREEZE + heat / thawed;
    if (heat >= edge) return FREEZE + heat / (latent / MUSHY + 0.5 * (thawed + frozen));
    return FREEZE - MUSHY + (heat - edge) / frozen;
}

static void couple(int n, const double *temp, const double *thick, const double *thawed, const double *frozen, const double *latent, double *links) {
    double last = 0.0;
    for (int i = 0; i < n; i++) {
        double k = thawed[i];
        if (latent[i] > 0.0 && temp[i] < FREEZE) k += (frozen[i] - thawed[i]) * least((FREEZE - temp[i]) / MUSHY, 1.0);
        double half = 0.5 * thick[i] / k;
        links[i] = 1.0 / (last + half);
        last = half;
    }
    links[n] = 1.0 / last;
}

static void factor(int n, const double *temp, const double *thick, const double *links, const double *thawed, const double *frozen,
                   const double *latent, const double *side, double below, double dt, double *hold, double *inverse, double *low) {
    for (int i = n - 1; i >= 0; i--) {
        double c = temp[i] >= FREEZE ? thawed[i] : latent[i] > 0.0 && temp[i] > FREEZE - MUSHY ? latent[i] / MUSHY + 0.5 * (thawed[i] + frozen[i]) : frozen[i];
        hold[i] = c * thick[i] * (1.0 / dt);
        inverse[i] = 1.0 / (below + hold[i] + links[i] + side[i]);
        low[i] = links[i] * inverse[i];
        below = links[i] * (1.0 - low[i]);
    }
}

static void sweep(int n, const double *temp, const double *side_w, double right, const double *hold, const double *inverse, double *up, const double *low) {
    for (int i = n - 1; i >= 0; i--) {
        right += hold[i] * temp[i] + side_w[i];
        up[i] = right * inverse[i];
        right *= low[i];
    }
}

static double settle(int n, double *temp, const double *thick, const double *thawed, const double *frozen, const double *latent, const double *hold,
                     const double *up, const double *low, double above, double dt, int freezing) {
    double gained = 0.0;
    for (int i = 0; i < n; i++) {
        above = up[i] + low[i] * above;
        double old = temp[i], watts = hold[i] * (above - old);
        if (freezing && latent[i] > 0.0 && (old < FREEZE || above < FREEZE))
            temp[i] = soil_temp(soil_heat(old, thawed[i], frozen[i], latent[i]) + watts * dt / thick[i], thawed[i], frozen[i], latent[i]);
        else temp[i] = above;
        gained += watts;
    }
    return gained;
}

void run(int n, const params *restrict q, const double *restrict air, const double *restrict vapour, const double *restrict wind,
         const double *restrict longwave, const double *restrict pressure, const double *restrict rain, const double *restrict sun,
         const double *restrict gap, const double *restrict swept, const double *restrict bottom, const float *restrict beside, int layers,
         double *restrict soil, const double *restrict thick, const double *restrict k_thawed, const double *restrict k_frozen,
         const double *restrict c_thawed, const double *restrict c_frozen, const double *restrict latent, int n_wall, double *restrict wall,
         const double *restrict wall_thick, const double *restrict wall_k, const double *restrict wall_c, const double *restrict picks,
         double *restrict s, int steps_day, int steps_night, float *restrict out) {
    const params p = *q;
    double up[MOST], low[MOST], hold[MOST], inverse[MOST], links[MOST + 1], side[MOST], side_w[MOST];
    double wall_up[MOST], wall_low[MOST], wall_hold[MOST], wall_inverse[MOST], wall_links[MOST + 1], none[MOST] = {0};
    double floor = p.floor_area, area = p.cover_area;
    double view = p.floor_view * floor, stirred = 1.0 / (p.height * sqrt(floor)), factored = 0.0;
    double soil_grey = 1.0 / (1.0 / most(view * (1.0 - p.canopy), 1e-9) + (1.0 - p.soil_emit) / (p.soil_emit * floor));
    double leaf_grey = 1.0 / (1.0 / (view * p.canopy) + 0.05 / (0.95 * p.leaf_area));
    int frost = 1;
    couple(layers, soil, thick, k_thawed, k_frozen, latent, links);
    couple(n_wall, wall, wall_thick, wall_k, wall_k, none, wall_links);
    for (int i = 0; i < layers; i++) side[i] = p.lateral > 0.0 ? p.lateral_perimeter / (p.lateral_way / k_thawed[i] + p.lateral_edge_r) * thick[i] / floor : 0.0;
    for (int h = 0; h < n; h++) {
        const double *w = sun + 6 * h;
        double out_k = air[h], ground4 = out_k * out_k * out_k * out_k, sky4 = longwave[h] / SIGMA, gust = wind[h] * p.wind_factor;
        if (p.snow > 0.0) {
            if (out_k < FREEZE + 1.0) s[SNOW] += rain[h] * least(1.0, most(0.0, (p.cover_tilt_cos - 0.5) * 2.5));
            double melt = most(0.0, out_k - FREEZE) * 0.17 + w[3] / area * 3600.0 / 3.34e5;
            s[SNOW] = swept[h] > 0.0 ? 0.0 : most(0.0, s[SNOW] - melt);
        }
        double snow_m = s[SNOW] / 150.0, snow_r = snow_m > 0.004 ? snow_m / 0.15 : 0.0, light = 1.0;
        if (snow_r > 0.0) light *= 0.3 * exp(-15.0 * snow_m);
        else if (p.vapour > 0.0) light *= 1.0 - 0.08 * least(s[DEW] / 0.03, 1.0);
        double density = pressure[h] / (287.05 * out_k), per_gamma = 0.622 * VAPORISE / (CP * pressure[h]);
        double cover_rad = root4(p.cover_sky * sky4 + (1.0 - p.cover_sky) * ground4), wall_rad = root4(p.wall_sky * sky4 + (1.0 - p.wall_sky) * ground4);
        double film_out = 2.8 + 3.0 * gust;
        double walls_w = w[1] * light, onto = w[0] * light, bounce = walls_w * (1.0 - p.wall_absorb);
        double leaf_share = p.canopy * p.leaf_absorb, soil_share = (1.0 - p.canopy + 0.2 * p.canopy) * p.soil_absorb;
        bounce += onto * (1.0 - leaf_share - soil_share);
        double scattered = bounce / (floor * (leaf_share + soil_share) + p.wall_area * p.wall_absorb + area * p.light_out);
        double leaf_sun = onto * leaf_share + scattered * floor * leaf_share, soil_sun = onto * soil_share + scattered * floor * soil_share;
        double wall_sun = walls_w * p.wall_absorb + scattered * p.wall_area * p.wall_absorb, crop_light = onto / floor + scattered;
        double sheet_sun = snow_r > 0.0 ? 0.0 : w[3], shine = p.wall_absorb * w[4] / p.wall_area;
        double film_leaf = 1.47 * root4(fabs(s[LEAF] - s[AIR]) / 0.04);
        double film_cover = most(film_up(s[INNER], s[AIR], -p.cover_tilt_cos), 0.5), film_soil = most(film_up(s[SKIN], s[AIR], 1.0), 0.5);
        double film_wall = most(film_up(s[WALL_SKIN], s[AIR], 0.0), 0.5);
        double leak = 10.0 * p.leak_area * sqrt(1.45e-4 * p.height / 2.5 * fabs(s[AIR] - out_k) + p.shielding * wind[h] * wind[h]);
        double coldest = soil[0];
        for (int i = 1; i < layers; i++) coldest = least(coldest, soil[i]);
        int close_to = p.freezing > 0.0 && coldest < FREEZE + NEAR;
        if (frost || close_to) {
            frost = close_to;
            couple(layers, soil, thick, k_thawed, k_frozen, latent, links);
            factored = 0.0;
        }
        for (int i = 0; i < layers; i++) side_w[i] = side[i] > 0.0 ? side[i] * beside[(size_t)h * layers + i] : 0.0;
        double under_g = links[layers], under_w = under_g * bottom[h];
        int steps = w[0] > 0.0 || (h > 0 && fabs(air[h] - air[h - 1]) > 1.5) ? steps_day : steps_night;
        double dt = 3600.0 / steps;
        double m[16] = {0.0, 1e9, -1e9, 0.0, 1e9, -1e9};
        for (int step = 0; step < steps; step++) {
            double lid = gap[h] > 0.0 ? vent(p.vent_area_per_m * gap[h], s[AIR], out_k, gust, p.vent_height) : 0.0;
            double opened = gap[h] > 0.0 ? least(1.0, gap[h] / p.full_gap) : 0.0, flow = leak + lid;
            double exchange = density * CP * flow, store = density * CP * p.volume / dt, stir = 0.03 + flow * stirred;
            zone z = {exchange + store + p.frame_ua, 0, 0, 0, 0, 0, 0, 0, (exchange + store) * per_gamma,
                      exchange * out_k + store * s[AIR] + p.frame_ua * out_k, 0, (exchange * vapour[h] + store * s[VAPOUR]) * per_gamma, 0, 0};
            double t = s[INNER], wet = least(s[DEW] / 0.03, 1.0), emit_out = p.emit_outer + 0.95 * p.pass_outer * wet;
            double emit_in = p.emit_inner + (0.95 - p.emit_inner) * wet, through = p.pass_inner * (1.0 - wet), face_g, face_k, sat, slope;
            int melting = 0;
            if (snow_r > 0.0) { emit_in = least(0.95, emit_in + through); through = 0.0; emit_out = 0.9; }
            if (snow_r > 0.0 && s[OUTER] > FREEZE) { face_g = area / (0.5 * snow_r + 0.02); face_k = FREEZE; melting = 1; }
            else {
                double ray = emit_out * radiation(s[OUTER], cover_rad), both = film_out + ray;
                face_k = (film_out * out_k + ray * cover_rad) / both;
                face_g = snow_r > 0.0 ? area / (1.0 / both + snow_r) : area * both;
            }
            double spread = area / (emit_in + through + p.cover_view * (1.0 - emit_in - through)), ray = p.cover_view * emit_in * spread * radiation(t, s[STAR]);
            double pass_g = p.cover_view * through * spread * radiation(s[STAR], cover_rad), cross = (1.0 - p.cover_view) * emit_in * through * spread * radiation(t, cover_rad);
            double keep = p.cover_heat_inner * area / dt, link = (film_cover + 3.0 * stir) * area;
            sat = near(t, &slope);
            double vap = link * per_gamma, cover_vap, cover_sat = sat, cover_slope = slope;
            if (s[VAPOUR] < sat) vap = least(vap, s[DEW] * VAPORISE * area / (dt * most(sat - s[VAPOUR], 1.0)));
            cover_vap = vap;
            z.rr += pass_g; z.r += pass_g * cover_rad;
            z = add(z, link, ray, vap, keep + cross + face_g, sheet_sun + keep * t + cross * cover_rad + face_g * face_k, sat, slope, t);
            double cover_d = z.d, cover_k = z.k, cover_air = link, cover_ray = ray;
            double wall_out = p.wall_emit * radiation(wall[n_wall - 1], wall_rad), outside = film_out + wall_out;
            double wall_face_k = (film_out * out_k + wall_out * wall_rad + shine) / outside, wall_face_g = outside * wall_links[n_wall] / (outside + wall_links[n_wall]);
            factor(n_wall, wall, wall_thick, wall_links, wall_c, wall_c, none, none, wall_face_g, dt, wall_hold, wall_inverse, wall_low);
            sweep(n_wall, wall, none, wall_face_g * wall_face_k, wall_hold, wall_inverse, wall_up, wall_low);
            double conduct = wall_links[0] * p.wall_area, wall_air = (film_wall + 3.0 * stir) * p.wall_area;
            double wall_ray = p.wall_area * p.wall_grey * radiation(s[WALL_SKIN], s[STAR]);
            z = add(z, wall_air, wall_ray, 0.0, conduct * (1.0 - wall_low[0]), conduct * wall_up[0] + wall_sun, 0.0, 0.0, 0.0);
            double wall_d = z.d, wall_kk = z.k;
            if (factored != dt || frost) {
                factor(layers, soil, thick, links, c_thawed, c_frozen, latent, side, under_g, dt, hold, inverse, low);
                factored = dt;
            }
            sweep(layers, soil, side_w, under_w, hold, inverse, up, low);
            double bed_air = (film_soil + 3.0 * stir) * floor, skin = s[SKIN];
            double bed_ray = radiation(skin, s[STAR]) * soil_grey;
            sat = near(skin, &slope);
            double bed_vap = bed_air * per_gamma * (s[VAPOUR] < sat ? p.soil_wet * (1.0 - 0.5 * p.canopy) : 1.0);
            conduct = links[0] * floor;
            z = add(z, bed_air, bed_ray, bed_vap, conduct * (1.0 - low[0]), conduct * up[0] + soil_sun, sat, slope, skin);
            double bed_d = z.d, bed_k = z.k;
            double leaf = s[LEAF], leaf_air = 2.0 * most(film_leaf, 19.8 * sqrt(stir)) * p.leaf_area;
            double leaf_ray = radiation(leaf, s[STAR]) * leaf_grey, leaf_vap = leaf_air * per_gamma;
            sat = near(leaf, &slope);
            if (s[VAPOUR] < sat) {
                double stomata = density * CP * p.leaf_area * (crop_light / (crop_light + 60.0) + 0.03) / 120.0 * per_gamma;
                leaf_vap = leaf > FREEZE + 0.85 ? p.wet_leaf * leaf_vap * stomata / (leaf_vap + stomata) : 0.0;
            }
            double leaf_hold = p.leaf_heat / dt;
            z = add(z, leaf_air, leaf_ray, leaf_vap, leaf_hold, leaf_hold * leaf + leaf_sun, sat, slope, leaf);
            double pivot = 1.0 / z.aa, f = z.ra * pivot, g = z.va * pivot, rr = z.rr - f * z.ar, rv = z.rv - f * z.av, r = z.r - f * z.a;
            double pivot_r = 1.0 / rr, hh = (z.vr - g * z.ar) * pivot_r, e = (z.v - g * z.a - hh * r) / (z.vv - g * z.av - hh * rv);
            double star = (r - rv * e) * pivot_r, ta = (z.a - z.ar * star - z.av * e) * pivot;
            double new = (cover_air * ta + cover_ray * star + cover_vap * e + cover_k) / cover_d, face = face_g * (face_k - new);
            s[DEW] = least(most(s[DEW] + cover_vap * (e - cover_sat - cover_slope * (new - t)) * dt / (VAPORISE * area), 0.0), 0.10);
            if (melting) s[SNOW] = most(0.0, s[SNOW] - most(0.0, -face) * dt / (FUSION * area));
            s[OUTER] = s[INNER] = new;
            s[WALL_SKIN] = (wall_air * ta + wall_ray * star + wall_kk) / wall_d;
            settle(n_wall, wall, wall_thick, wall_c, wall_c, none, wall_hold, wall_up, wall_low, s[WALL_SKIN], dt, 0);
            s[SKIN] = (bed_air * ta + bed_ray * star + bed_vap * e + bed_k) / bed_d;
            settle(layers, soil, thick, c_thawed, c_frozen, latent, hold, up, low, s[SKIN], dt, frost || s[SKIN] < FREEZE);
            s[LEAF] = (leaf_air * ta + leaf_ray * star + leaf_vap * e + z.k) / z.d;
            s[AIR] = ta; s[STAR] = star; s[VAPOUR] = most(e, 1.0);
            m[0] += ta; m[1] = least(m[1], ta); m[2] = most(m[2], ta);
            m[3] += s[LEAF]; m[4] = least(m[4], s[LEAF]); m[5] = most(m[5], s[LEAF]); m[6] += s[SKIN]; m[10] += e;
            for (int i = 0; i < 3; i++) {
                int j = (int)picks[2 * i], next = j + 1 < layers ? j + 1 : layers - 1;
                m[7 + i] += soil[j] + (soil[next] - soil[j]) * picks[2 * i + 1];
            }
            m[13] += opened; m[14] += flow / p.volume * 3600.0; m[15] += s[INNER];
        }
        float *o = out + 16 * (size_t)h;
        for (int i = 0; i < 16; i++) o[i] = (float)(i == 1 || i == 2 || i == 4 || i == 5 ? m[i] : m[i] / steps);
        double unused;
        o[10] = (float)least(1.0, o[10] / near(o[0], &unused));
        o[11] = (float)(crop_light * 2.05);
        o[12] = (float)((w[0] + w[1]) * light);
    }
}
