"""The scripts that set up completion in bash, zsh and fish: click's for zsh, our own where names need quoting.

Names hold blanks, commas, quotes and stars. click's script for bash splits and globs them and inserts them
unquoted; its script for fish cuts them at the first comma.
"""

from __future__ import annotations

from click.shell_completion import BashComplete, FishComplete, ShellComplete, ZshComplete

# bash ends a word at each of COMP_WORDBREAKS, at a colon too: CONTEST:TASK comes as three words, of which the last is
# replaced. So the words of the line are joined again where no blank stands between, and of what is inserted as many
# beginnings are left out as colons were typed.
_BASH = """\
%(complete_func)s() {
    local kind value typed word line=$COMP_LINE words=()
    COMPREPLY=()
    for word in "${COMP_WORDS[@]:0:COMP_CWORD+1}"; do
        if [[ $line == [[:space:]]* || ${#words[@]} == 0 ]]; then
            line=${line#"${line%%%%[![:space:]]*}"}
            words+=("$word")
        else
            words[-1]+=$word
        fi
        line=${line#"$word"}
    done
    local current=${words[-1]}
    while IFS=, read -r kind value; do
        case $kind in
        dir) compopt -o dirnames ;;
        file) compopt -o default ;;
        plain)
            # Behind an opening quote the text is inserted within the quotes, and no colon ends a word.
            if [[ $current != [\\"\\']* ]]; then
                typed=$current
                while [[ $typed == *:* ]]; do typed=${typed#*:} value=${value#*:}; done
                printf -v value %%q "$value"
            fi
            COMPREPLY+=("$value")
            ;;
        esac
    done < <(COMP_WORDS="$(printf '%%s\\n' "${words[@]}")" COMP_CWORD="$((${#words[@]} - 1))" \\
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
