/* dis_pdu.h - Entity State PDUs put together by hand. */
#ifndef SUPPORT_DIS_PDU_H
#define SUPPORT_DIS_PDU_H

#include <stddef.h>
#include <stdint.h>

enum { DIS_PDU_SIZE = 144 };

/* A PDU after the tables of IEEE 1278.1-2012, 7.2.2, standing still where
 * equator and first meridian cross. */
void dis_pdu_begin(uint8_t pdu[DIS_PDU_SIZE]);
/* Put a number at an offset, its first byte first. */
void dis_pdu_put_32(uint8_t pdu[DIS_PDU_SIZE], size_t at, uint32_t bits);
void dis_pdu_put_float(uint8_t pdu[DIS_PDU_SIZE], size_t at, double value);
void dis_pdu_put_double(uint8_t pdu[DIS_PDU_SIZE], size_t at, double value);
/* The place, in geocentric metres. */
void dis_pdu_put_point(uint8_t pdu[DIS_PDU_SIZE], double x, double y, double z);
/* The orientation. */
void dis_pdu_put_angles_deg(uint8_t pdu[DIS_PDU_SIZE], double psi, double theta,
                            double phi);

#endif
