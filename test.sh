#!/usr/bin/env bash
# Runs every test there is, on a Debian-like machine with Go; installs what
# they need and the machine lacks. The closing lines are go test's own.
set -euo pipefail
cd "$(dirname "$0")"

# python3-scipy solves the same equations a second time; poppler-utils and
# zbar-tools read what the paper says; chromium walks the pages; gcc is for the
# race detector.
need=()
python3 -c 'import scipy' 2>/dev/null || need+=(python3-scipy)
command -v pdftotext >/dev/null || need+=(poppler-utils)
command -v zbarimg >/dev/null || need+=(zbar-tools)
command -v chromium >/dev/null || need+=(chromium)
command -v gcc >/dev/null || need+=(gcc libc6-dev)
if [ ${#need[@]} -gt 0 ]; then
	sudo=; [ "$(id -u)" = 0 ] || sudo=sudo
	$sudo apt-get update -qq
	DEBIAN_FRONTEND=noninteractive $sudo apt-get install -y -qq --no-install-recommends "${need[@]}"
fi

echo '== format, vet, staticcheck'
unformatted=$(gofmt -l .)
if [ -n "$unformatted" ]; then echo "not formatted: $unformatted" >&2; exit 1; fi
go vet ./...
go run honnef.co/go/tools/cmd/staticcheck@v0.8.2 ./...

echo '== short fuzzing'
fuzz() { go test -run '^$' -fuzz "^$2\$" -fuzztime "${FUZZTIME:-3s}" -fuzzminimizetime 10x "$1"; }
for pkg in . ./si ./find ./internal/sheet; do
	for name in $(go test -list '^Fuzz' "$pkg" | grep '^Fuzz' || true); do fuzz "$pkg" "$name"; done
done

echo '== race detector'
# Where goroutines share something: the store, the catalogues, fonts, what pages
# remember, the search's many hands, and a server with many callers. The engine
# has none of its own.
go test -race -short ./internal/sqlite ./internal/lang ./internal/draw ./internal/web/kit
go test -race -short -run '^TestSameEachTime$' ./find
go test -race -short -run '^TestServe' ./internal/cli
go test -race -short -run 'Twice|ServeStops|Paired|LAN|Guess|GapStop' ./internal/web

echo '== all tests'
go test -timeout 60m ./...
