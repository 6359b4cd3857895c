/* wgs84.h - private to the intake room: places on the Earth and directions
 * there, from geocentric coordinates.
 *
 * Geocentric: metres from the Earth's centre; x through latitude 0, longitude
 * 0, y through latitude 0, 90 degrees east, z through the north pole. */
#ifndef INTAKE_WGS84_H
#define INTAKE_WGS84_H

#include <stdbool.h>

struct wgs84_vector {
    double x;
    double y;
    double z;
};

struct wgs84_place {
    double latitude_rad;  /* geodetic, north positive */
    double longitude_rad; /* east positive */
    double height_m;      /* above the ellipsoid */
};

/* Three directions at right angles, each of length 1. */
struct wgs84_axes {
    struct wgs84_vector x;
    struct wgs84_vector y;
    struct wgs84_vector z;
};

struct wgs84_attitude {
    double heading_rad; /* against true north, (-pi, pi] */
    double pitch_rad;
    double bank_rad;
};

double wgs84_dot(const struct wgs84_vector *a, const struct wgs84_vector *b);

/* The place of a geocentric point.
 * Returns: false (out unchanged) when the point is not finite or lies more
 *    than 200 km below the surface or 1000 km above it. */
bool wgs84_place_of(const struct wgs84_vector *point, struct wgs84_place *out);
/* North, east and down at a place. */
void wgs84_axes_at(const struct wgs84_place *place, struct wgs84_axes *out);
/* Nose, right wing and belly of a body turned from the geocentric axes by psi
 * about z, then theta about y, then phi about x. rad, finite. */
void wgs84_axes_of_body(double psi, double theta, double phi,
                        struct wgs84_axes *out);
/* How a body stands against the ground of a place. */
void wgs84_attitude_of(const struct wgs84_axes *body,
                       const struct wgs84_axes *ground,
                       struct wgs84_attitude *out);

/* ---- the way back ------------------------------------------------------- */

/* The geocentric point of a place. */
void wgs84_point_of(const struct wgs84_place *place, struct wgs84_vector *out);
/* Nose, right wing and belly of a body that stands so against the ground. */
void wgs84_body_over(const struct wgs84_attitude *attitude,
                     const struct wgs84_axes *ground, struct wgs84_axes *out);
/* Psi, theta and phi of a body, as x, y and z. */
void wgs84_angles_of(const struct wgs84_axes *body, struct wgs84_vector *out);
/* A vector told along these axes, in the axes' own. */
void wgs84_combine(const struct wgs84_axes *axes,
                   const struct wgs84_vector *told, struct wgs84_vector *out);

#endif
