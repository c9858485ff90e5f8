/** Of pages that are made to be kept or printed: they bring their own style and pictures, and load nothing. */
export const PAGE_SECURITY_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:";
