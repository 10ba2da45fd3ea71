# Completion for every program of thrum, installed once for each under the program's name. What
# there is to complete, the programs say themselves: --print-options.

_thrum() {
	local program=${COMP_WORDS[0]} word=$2 before=$3 argument

	argument=$("$program" --print-options 2>/dev/null |
		awk -F '\t' -v o="$before" 'NR > 1 && (o == "--" $2 || ($1 != "" && o == "-" $1)) { print $3 }')
	if [[ $word == -* && -z $argument ]]; then
		mapfile -t COMPREPLY < <(compgen -W "$("$program" --print-options 2>/dev/null |
			awk -F '\t' 'NR > 1 { print "--" $2 }')" -- "$word")
	elif [[ -z $argument || $argument == FILE || $argument == MAP ]]; then
		compopt -o filenames 2>/dev/null
		mapfile -t COMPREPLY < <(compgen -f -- "$word")
	fi
}

complete -F _thrum "${BASH_SOURCE[0]##*/}"
