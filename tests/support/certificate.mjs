// Certificates for tests, made by the openssl command, each its own authority.
import { execFileSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { join } from "node:path";

/** Makes a certificate for 127.0.0.1 and for that name, and its key in a folder: {certificate, key, pem}. */
export function makeCertificate(folder, name, ...more) {
  const certificate = join(folder, `${name}.pem`);
  const key = join(folder, `${name}.key`);
  execFileSync(
    "openssl",
    [
      ...["req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1"],
      ...["-days", "2", "-subj", `/CN=${name}`, "-addext", `subjectAltName=IP:127.0.0.1,DNS:${name}`],
      ...["-out", certificate, "-keyout", key],
      ...(more.length > 0 ? more : ["-nodes"]),
    ],
    { stdio: "pipe" },
  );
  return { certificate, key, pem: readFileSync(certificate, "utf8") };
}
