# Gets what the tests in a browser need; sourced by scripts/test --all.
# Chromium comes from Debian's packages, its driver and the accessibility check from npm; both into
# .browser, which git does not see. Sets COGTALLY_BROWSER to that folder, or says why it cannot.

browser() {
    local folder="$ROOT/.browser" chromium
    chromium="$(command -v chromium || true)"
    if [ -z "$chromium" ] && [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then
        echo "Installing Chromium (once) …" >&2
        { apt-get update && apt-get install -y --no-install-recommends chromium; } \
            >/dev/null 2>&1 || true
        chromium="$(command -v chromium || true)"
    fi
    if [ -z "$chromium" ]; then
        echo "No tests in a browser: chromium is not there, and apt-get could not install it." >&2
        return 0
    fi
    if ! command -v npm >/dev/null || ! command -v node >/dev/null; then
        echo "No tests in a browser: node and npm are not there." >&2
        return 0
    fi
    if [ ! -d "$folder/node_modules/playwright-core" ] ||
        [ ! -d "$folder/node_modules/axe-core" ]; then
        mkdir -p "$folder"
        if ! npm install --prefix "$folder" --no-audit --no-fund --silent \
            playwright-core axe-core >/dev/null 2>&1; then
            echo "No tests in a browser: npm could not install playwright-core and axe-core." >&2
            return 0
        fi
    fi
    export COGTALLY_BROWSER="$folder" COGTALLY_CHROMIUM="$chromium"
}
