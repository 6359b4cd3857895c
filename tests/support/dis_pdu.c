/* dis_pdu.c - Entity State PDUs put together by hand. */
#include "dis_pdu.h"

#include <string.h>

#include "quarterturn/units.h"

void dis_pdu_begin(uint8_t pdu[DIS_PDU_SIZE])
{
    memset(pdu, 0, DIS_PDU_SIZE);
    pdu[0] = 7;            /* version */
    pdu[2] = 1;            /* Entity State */
    pdu[3] = 1;            /* of the family of entities */
    pdu[9] = DIS_PDU_SIZE; /* length */
    pdu[20] = 1;           /* a platform */
    pdu[88] = 2;           /* dead reckoning in geocentric axes */
    dis_pdu_put_point(pdu, 6378137.0, 0.0, 0.0);
}

void dis_pdu_put_32(uint8_t pdu[DIS_PDU_SIZE], size_t at, uint32_t bits)
{
    for (size_t i = 0; i < 4; i++)
        pdu[at + i] = (uint8_t)(bits >> (24 - 8 * i));
}

void dis_pdu_put_float(uint8_t pdu[DIS_PDU_SIZE], size_t at, double value)
{
    float single = (float)value;
    uint32_t bits;

    memcpy(&bits, &single, sizeof bits);
    dis_pdu_put_32(pdu, at, bits);
}

void dis_pdu_put_double(uint8_t pdu[DIS_PDU_SIZE], size_t at, double value)
{
    uint64_t bits;

    memcpy(&bits, &value, sizeof bits);
    dis_pdu_put_32(pdu, at, (uint32_t)(bits >> 32));
    dis_pdu_put_32(pdu, at + 4, (uint32_t)bits);
}

void dis_pdu_put_point(uint8_t pdu[DIS_PDU_SIZE], double x, double y, double z)
{
    dis_pdu_put_double(pdu, 48, x);
    dis_pdu_put_double(pdu, 56, y);
    dis_pdu_put_double(pdu, 64, z);
}

void dis_pdu_put_angles_deg(uint8_t pdu[DIS_PDU_SIZE], double psi, double theta,
                            double phi)
{
    dis_pdu_put_float(pdu, 72, units_rad(psi));
    dis_pdu_put_float(pdu, 76, units_rad(theta));
    dis_pdu_put_float(pdu, 80, units_rad(phi));
}
