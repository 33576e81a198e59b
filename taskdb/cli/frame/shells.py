"""The scripts that set up completion in bash, zsh and fish: click's for zsh, our own where names need quoting.

Names hold blanks, commas, quotes and stars. click's script for bash splits and globs them and inserts them
unquoted; its script for fish cuts them at the first comma.
"""

from __future__ import annotations

from click.shell_completion import BashComplete, FishComplete, ShellComplete, ZshComplete

_BASH = """\
%(complete_func)s() {
    local kind value current=${COMP_WORDS[COMP_CWORD]}
    COMPREPLY=()
    while IFS=, read -r kind value; do
        case $kind in
        dir) compopt -o dirnames ;;
        file) compopt -o default ;;
        plain)
            # Behind an opening quote the text is inserted within the quotes.
            [[ $current == [\\"\\']* ]] || printf -v value %%q "$value"
            COMPREPLY+=("$value")
            ;;
        esac
    done < <(COMP_WORDS="$(printf '%%s\\n' "${COMP_WORDS[@]}")" COMP_CWORD="$COMP_CWORD" \\
        %(complete_var)s=bash_complete "$1" 2>/dev/null)
}
complete -o nosort -F %(complete_func)s %(prog_name)s
"""

_FISH = """\
function %(complete_func)s
    set -l response (env %(complete_var)s=fish_complete COMP_WORDS=(commandline -cp) \\
        COMP_CWORD=(commandline -t) %(prog_name)s 2>/dev/null)
    for completion in $response
        set -l parts (string split --max 1 "," -- $completion)
        switch $parts[1]
            case dir
                __fish_complete_directories $parts[2]
            case file
                __fish_complete_path $parts[2]
            case plain
                echo $parts[2]
        end
    end
end
complete --no-files --command %(prog_name)s --arguments "(%(complete_func)s)"
"""


class QuotingBash(BashComplete):
    """bash, with names quoted as they are inserted."""

    source_template = _BASH


class WholeNamesFish(FishComplete):
    """fish, with names kept whole."""

    source_template = _FISH


SHELL_CLASSES: dict[str, type[ShellComplete]] = {"bash": QuotingBash, "zsh": ZshComplete, "fish": WholeNamesFish}
