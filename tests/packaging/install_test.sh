#!/usr/bin/env bash
# Protects: what `cmake --install` puts in place can be used: by find_package in a project that
# knows nothing else, by man, by the completion of bash and zsh.
#
#   install_test.sh CMAKE BUILD SOURCE
set -euo pipefail
cmake=$1 build=$2 source=$3
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
fail() { echo "FAILED: $*" >&2; exit 1; }

"$cmake" --install "$build" --prefix "$work/usr" >"$work/install.log" || { cat "$work/install.log"; fail "install"; }
program=$work/usr/bin/inkwane
[[ $("$program" --version) == inkwane\ * ]] || fail "the installed program does not run"

# Nothing of where it was built may be in what others configure with.
if grep -rlF "$source" "$work"/usr/lib/*/cmake; then fail "these name the source folder"; fi
if grep -rlE '# *include.*(opencv|lcms)' "$work/usr/include"; then fail "a public header names OpenCV or LittleCMS"; fi

"$cmake" -S "$source/tests/consumer" -B "$work/consumer" -G Ninja -DCMAKE_BUILD_TYPE=Release \
  -DCMAKE_PREFIX_PATH="$work/usr" -Wno-dev >"$work/consumer.log" 2>&1 &&
  "$cmake" --build "$work/consumer" >>"$work/consumer.log" 2>&1 || { cat "$work/consumer.log"; fail "the consumer does not build"; }
(cd "$work" && consumer/consumer) || fail "the consumer does not work"

# One page a command, each without a complaint of groff's, with every option of --help in it.
pages=("$work"/usr/share/man/man1/*.1.gz)
commands=$("$program" --help | sed -n '/^Subcommands:/,/^$/s/^  \([a-z]*\) .*/\1/p')
[[ $(wc -w <<<"$commands") -ge 10 ]] || fail "found too few commands in --help"
for command in $commands; do
  page=$work/usr/share/man/man1/inkwane-$command.1.gz
  [[ -f $page ]] || fail "no man page of $command"
  text=$(zcat "$page" | groff -k -man -Tutf8 -P-cbou -ww 2>"$work/groff.log")
  [[ ! -s $work/groff.log ]] || { cat "$work/groff.log"; fail "man page of $command"; }
  grep -q '^NAME' <<<"$text" || fail "man page of $command has no NAME"
  for option in $("$program" "$command" --help | grep -oE '^  (-[a-zA-Z],)?--[a-z0-9-]+' | grep -oE -- '--[a-z0-9-]+'); do
    grep -qF -- "$option" <<<"$text" || fail "man page of $command lacks $option"
  done
done
[[ ${#pages[@]} -gt $(wc -w <<<"$commands") ]] || fail "the program itself has no page"

# bash: what it offers at a few places.
offers() {
  bash -c 'source "$0"; COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); _inkwane; echo "${COMPREPLY[*]}"' \
    "$work/usr/share/bash-completion/completions/inkwane" "$@"
}
[[ $(offers inkwane ass) == assess ]] || fail "bash: inkwane ass"
[[ $(offers inkwane assess --out) == --output ]] || fail "bash: inkwane assess --out"
[[ $(offers inkwane assess a.toml --qu) == --quiet ]] || fail "bash: an option of every command"
[[ $(offers inkwane regions exp) == export ]] || fail "bash: inkwane regions exp"
[[ $(offers inkwane card --paper let) == letter ]] || fail "bash: a choice of values"
[[ $(offers inkwane describe) == "" ]] || fail "bash: what is hidden is offered"

# zsh: reads without a fault, and knows a function for every command.
zsh -n "$work/usr/share/zsh/vendor-completions/_inkwane" || fail "zsh: syntax"
for command in $commands; do
  grep -q "^_inkwane_$command() {" "$work/usr/share/zsh/vendor-completions/_inkwane" || fail "zsh: $command"
done
echo "What is installed works."
