package main

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/hex"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"os"
	"path/filepath"
	"time"
)

// keyName is the file of the register's key in its folder. Benches know the register by it: it is kept with the ledger, and a
// register that moves takes it along.
const keyName = "key.pem"

// registerKey returns the register's key, which is made at the first time, with a certificate that it has signed itself, and
// the SHA-256 by which benches know it.
func registerKey(dir string, now time.Time) (tls.Certificate, string, error) {
	path := filepath.Join(dir, keyName)
	text, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		text, err = newKey(path)
	}
	if err != nil {
		return tls.Certificate{}, "", err
	}
	block, _ := pem.Decode(text)
	if block == nil {
		return tls.Certificate{}, "", fmt.Errorf("%s: no key in PEM", path)
	}
	key, err := x509.ParseECPrivateKey(block.Bytes)
	if err != nil {
		return tls.Certificate{}, "", fmt.Errorf("%s: %w", path, err)
	}
	template := x509.Certificate{
		SerialNumber: big.NewInt(now.UnixNano()), Subject: pkix.Name{CommonName: "fluteregister"}, DNSNames: []string{"localhost"},
		NotBefore: now.Add(-24 * time.Hour), NotAfter: now.AddDate(10, 0, 0), KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	if host, err := os.Hostname(); err == nil {
		template.DNSNames = append(template.DNSNames, host)
	}
	der, err := x509.CreateCertificate(rand.Reader, &template, &template, &key.PublicKey, key)
	if err != nil {
		return tls.Certificate{}, "", err
	}
	leaf, err := x509.ParseCertificate(der)
	if err != nil {
		return tls.Certificate{}, "", err
	}
	sum := sha256.Sum256(leaf.RawSubjectPublicKeyInfo)
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key, Leaf: leaf}, hex.EncodeToString(sum[:]), nil
}

// newKey makes a key. Of two programs that do so at once, one wins and both use its key.
func newKey(path string) ([]byte, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	der, err := x509.MarshalECPrivateKey(key)
	if err != nil {
		return nil, err
	}
	f, err := os.CreateTemp(filepath.Dir(path), keyName+"-*") // 0600
	if err != nil {
		return nil, err
	}
	defer os.Remove(f.Name())
	if err := errors.Join(pem.Encode(f, &pem.Block{Type: "EC PRIVATE KEY", Bytes: der}), f.Sync(), f.Close()); err != nil {
		return nil, err
	}
	if err := os.Link(f.Name(), path); err != nil && !errors.Is(err, fs.ErrExist) {
		return nil, err
	}
	return os.ReadFile(path)
}
