/* wgs84.c - places on the Earth and directions there. */
#include "wgs84.h"

#include <math.h>

/* Source: NGA.STND.0036, World Geodetic System 1984, table 3.1: semi-major
 * axis and flattening. */
static const double semi_major_m = 6378137.0;
static const double flattening = 1.0 / 298.257223563;

/* Where aircraft are, and a good deal more. Ours, no source. */
static const double radius_least_m = 6356752.0 - 200e3;
static const double radius_most_m = 6378137.0 + 1000e3;

double wgs84_dot(const struct wgs84_vector *a, const struct wgs84_vector *b)
{
    return a->x * b->x + a->y * b->y + a->z * b->z;
}

/* B. R. Bowring, Transformation from spatial to geographical coordinates
 * (Survey Review 181, 1976): the tangent of the reduced latitude, improved
 * twice; below a micrometre anywhere near the ground. */
bool wgs84_place_of(const struct wgs84_vector *point, struct wgs84_place *out)
{
    const double semi_minor_m = semi_major_m * (1.0 - flattening);
    const double e2 = flattening * (2.0 - flattening);
    const double second_e2 = e2 / (1.0 - e2);
    double axis_m = hypot(point->x, point->y);
    double radius_m = hypot(axis_m, point->z);
    double reduced;
    double latitude = 0.0;
    double sine;

    if (!(radius_m >= radius_least_m && radius_m <= radius_most_m))
        return false;
    reduced = atan2(semi_major_m * point->z, semi_minor_m * axis_m);
    for (int i = 0; i < 2; i++) {
        double s = sin(reduced);
        double c = cos(reduced);

        latitude = atan2(point->z + second_e2 * semi_minor_m * s * s * s,
                         axis_m - e2 * semi_major_m * c * c * c);
        reduced = atan2((1.0 - flattening) * sin(latitude), cos(latitude));
    }
    sine = sin(latitude);
    out->latitude_rad = latitude;
    out->longitude_rad = atan2(point->y, point->x);
    /* In this form neither pole nor equator divides by zero. */
    out->height_m = axis_m * cos(latitude) + point->z * sine -
                    semi_major_m * sqrt(1.0 - e2 * sine * sine);
    return true;
}

void wgs84_axes_at(const struct wgs84_place *place, struct wgs84_axes *out)
{
    double sin_lat = sin(place->latitude_rad);
    double cos_lat = cos(place->latitude_rad);
    double sin_lon = sin(place->longitude_rad);
    double cos_lon = cos(place->longitude_rad);

    out->x =
        (struct wgs84_vector){-sin_lat * cos_lon, -sin_lat * sin_lon, cos_lat};
    out->y = (struct wgs84_vector){-sin_lon, cos_lon, 0.0};
    out->z =
        (struct wgs84_vector){-cos_lat * cos_lon, -cos_lat * sin_lon, -sin_lat};
}

void wgs84_axes_of_body(double psi, double theta, double phi,
                        struct wgs84_axes *out)
{
    double sin_psi = sin(psi);
    double cos_psi = cos(psi);
    double sin_theta = sin(theta);
    double cos_theta = cos(theta);
    double sin_phi = sin(phi);
    double cos_phi = cos(phi);

    out->x = (struct wgs84_vector){cos_theta * cos_psi, cos_theta * sin_psi,
                                   -sin_theta};
    out->y = (struct wgs84_vector){
        sin_phi * sin_theta * cos_psi - cos_phi * sin_psi,
        sin_phi * sin_theta * sin_psi + cos_phi * cos_psi, sin_phi * cos_theta};
    out->z = (struct wgs84_vector){
        cos_phi * sin_theta * cos_psi + sin_phi * sin_psi,
        cos_phi * sin_theta * sin_psi - sin_phi * cos_psi, cos_phi * cos_theta};
}

/* Through the axes, not through the angles: psi, theta, phi have aliases and
 * a pole of their own where the airplane flies level. */
void wgs84_attitude_of(const struct wgs84_axes *body,
                       const struct wgs84_axes *ground,
                       struct wgs84_attitude *out)
{
    double up = -wgs84_dot(&body->x, &ground->z);

    out->heading_rad =
        atan2(wgs84_dot(&body->x, &ground->y), wgs84_dot(&body->x, &ground->x));
    out->pitch_rad = asin(fmax(-1.0, fmin(1.0, up)));
    out->bank_rad =
        atan2(wgs84_dot(&body->y, &ground->z), wgs84_dot(&body->z, &ground->z));
}

/* With the radius of curvature across the meridian. Source: any text on
 * geodesy. */
void wgs84_point_of(const struct wgs84_place *place, struct wgs84_vector *out)
{
    const double e2 = flattening * (2.0 - flattening);
    double sine = sin(place->latitude_rad);
    double across_m = semi_major_m / sqrt(1.0 - e2 * sine * sine);
    double axis_m = (across_m + place->height_m) * cos(place->latitude_rad);

    out->x = axis_m * cos(place->longitude_rad);
    out->y = axis_m * sin(place->longitude_rad);
    out->z = (across_m * (1.0 - e2) + place->height_m) * sine;
}

void wgs84_combine(const struct wgs84_axes *axes,
                   const struct wgs84_vector *told, struct wgs84_vector *out)
{
    *out = (struct wgs84_vector){
        told->x * axes->x.x + told->y * axes->y.x + told->z * axes->z.x,
        told->x * axes->x.y + told->y * axes->y.y + told->z * axes->z.y,
        told->x * axes->x.z + told->y * axes->y.z + told->z * axes->z.z,
    };
}

/* Heading, pitch and bank turn a body against north, east and down as psi,
 * theta and phi do against the geocentric axes. */
void wgs84_body_over(const struct wgs84_attitude *attitude,
                     const struct wgs84_axes *ground, struct wgs84_axes *out)
{
    struct wgs84_axes body;

    wgs84_axes_of_body(attitude->heading_rad, attitude->pitch_rad,
                       attitude->bank_rad, &body);
    wgs84_combine(ground, &body.x, &out->x);
    wgs84_combine(ground, &body.y, &out->y);
    wgs84_combine(ground, &body.z, &out->z);
}

void wgs84_angles_of(const struct wgs84_axes *body, struct wgs84_vector *out)
{
    out->x = atan2(body->x.y, body->x.x);
    out->y = asin(fmax(-1.0, fmin(1.0, -body->x.z)));
    out->z = atan2(body->y.z, body->z.z);
}
