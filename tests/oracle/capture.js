/* capture.js - recordings taken apart. */
"use strict";

const fs = require("fs");

const HEADERS = 28; /* IPv4 and UDP */

/* Classic capture of raw IPv4, nanoseconds, little-endian. */
function readCapture(file) {
    const bytes = fs.readFileSync(file);
    const records = [];

    for (let at = 24; at < bytes.length;) {
        const size = bytes.readUInt32LE(at + 8);
        records.push({ stamp: bytes.subarray(at, at + 8),
            headers: bytes.subarray(at + 16, at + 16 + HEADERS),
            payload: bytes.subarray(at + 16 + HEADERS, at + 16 + size) });
        at += 16 + size;
    }
    return { beginning: bytes.subarray(0, 24), records };
}

module.exports = { HEADERS, readCapture };
