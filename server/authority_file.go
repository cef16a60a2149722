package server

import (
	"crypto/ecdsa"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"bagmark/grow"
)

// The authority's two files. The certificate is written last: without it nobody
// can have trusted the key, and both are made anew.
const (
	authorityFile    = "ca.crt"
	authorityKeyFile = "ca.key"
)

// openAuthority reads the authority in a folder. Where there is none, or its ten
// years are over, it makes one for the hosts.
func openAuthority(folder, title string, hosts []string, now time.Time) (*authority, error) {
	if err := errors.Join(os.MkdirAll(folder, 0o700), os.Chmod(folder, 0o700)); err != nil {
		return nil, unusable(folder, err)
	}
	a, err := readAuthority(folder)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	if err == nil && now.Before(a.certificate.NotAfter) {
		return a, nil
	}
	if a, err = newAuthority(title, hosts, now); err != nil {
		return nil, err
	}
	return a, a.write(folder)
}

// readAuthority is fs.ErrNotExist only where there is no certificate.
func readAuthority(folder string) (*authority, error) {
	path, keyPath := filepath.Join(folder, authorityFile), filepath.Join(folder, authorityKeyFile)
	der, err := readPEM(path, "CERTIFICATE")
	if err != nil {
		return nil, err
	}
	certificate, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, authorityError(path, "is damaged", err)
	}
	if der, err = readPEM(keyPath, "PRIVATE KEY"); errors.Is(err, fs.ErrNotExist) {
		return nil, authorityError(keyPath, "is missing", errors.New("there is a certificate without its key"))
	} else if err != nil {
		return nil, err
	}
	parsed, err := x509.ParsePKCS8PrivateKey(der)
	key, ok := parsed.(*ecdsa.PrivateKey)
	if err != nil || !ok || !key.PublicKey.Equal(certificate.PublicKey) || !certificate.IsCA {
		return nil, authorityError(keyPath, "is not the key of "+authorityFile, err)
	}
	if err := os.Chmod(keyPath, 0o600); err != nil {
		return nil, unusable(keyPath, err)
	}
	return &authority{certificate, key}, nil
}

func readPEM(path, kind string) ([]byte, error) {
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	if err != nil {
		return nil, unusable(path, err)
	}
	block, _ := pem.Decode(data)
	if block == nil || block.Type != kind {
		return nil, authorityError(path, "is damaged", errors.New("no "+kind+" in it"))
	}
	return block.Bytes, nil
}

// unusable is what the system refused.
func unusable(path string, cause error) error {
	return &grow.Error{Kind: grow.Internal, Cause: cause, Message: path + ", which HTTPS needs, cannot be used"}
}

// authorityError says what can be done: nothing but bringing the file back, or
// beginning with a new authority.
func authorityError(path, what string, cause error) error {
	return &grow.Error{Kind: grow.Internal, Cause: cause, Message: path + " " + what +
		": put it back, or move its folder away and start again; then every phone has to trust the new authority"}
}

func (a *authority) write(folder string) error {
	key, err := x509.MarshalPKCS8PrivateKey(a.key)
	if err != nil {
		return err
	}
	for _, f := range []struct {
		name, kind string
		der        []byte
	}{{authorityKeyFile, "PRIVATE KEY", key}, {authorityFile, "CERTIFICATE", a.certificate.Raw}} {
		path := filepath.Join(folder, f.name)
		if err := writeSecret(path, pem.EncodeToMemory(&pem.Block{Type: f.kind, Bytes: f.der})); err != nil {
			return unusable(path, err)
		}
	}
	return nil
}

// writeSecret writes a file for this user's eyes only. A power cut leaves all of
// it under its name or none.
func writeSecret(path string, data []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".*.tmp") // made with mode 0600
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // there is none once it was renamed
	_, err = f.Write(data)
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}
