package main

// shells are those that completion knows, with their scripts: each hands the words
// of the line to the program and what it answers to the shell.
var shells = []struct{ name, script string }{
	// bash 3.2, which macOS still has, and newer.
	{"bash", `# bash completion for tracemap
_tracemap() {
	local IFS=$'\n' cur=${COMP_WORDS[COMP_CWORD]} answer
	answer=$("${COMP_WORDS[0]}" __offer "${COMP_WORDS[@]:1:COMP_CWORD-1}" "+$cur" 2>/dev/null)
	if [ "$cur" = = ]; then cur=; fi
	case $answer in
	:files) compopt -o filenames 2>/dev/null; COMPREPLY=($(compgen -f -- "$cur")) ;;
	:dirs) compopt -o filenames 2>/dev/null; COMPREPLY=($(compgen -d -- "$cur")) ;;
	*) COMPREPLY=($(cut -f1 <<<"$answer")) ;;
	esac
}
complete -F _tracemap tracemap
`},
	{"zsh", `#compdef tracemap
_tracemap() {
	local -a answer
	answer=("${(@f)$($words[1] __offer "${(@)words[2,CURRENT-1]}" "+$words[CURRENT]" 2>/dev/null)}")
	case $answer[1] in
	:files) compset -P '--*='; _files ;;
	:dirs) compset -P '--*='; _files -/ ;;
	?*) answer=("${(@)answer//:/\\:}"); answer=("${(@)answer/$'\t'/:}"); _describe word answer ;;
	esac
}
if [ "$funcstack[1]" = _tracemap ]; then _tracemap "$@"; else compdef _tracemap tracemap; fi
`},
	{"fish", `# fish completion for tracemap
function __tracemap
	set -l words (commandline -opc)
	set -l typed (commandline -ct)
	set -l answer ($words[1] __offer $words[2..-1] "+$typed" 2>/dev/null)
	switch "$answer[1]"
		case :files
			__fish_complete_path (string replace -r -- '^--[^=]*=' '' "$typed")
		case :dirs
			__fish_complete_directories (string replace -r -- '^--[^=]*=' '' "$typed") ''
		case '*'
			printf '%s\n' $answer
	end
end
complete -c tracemap -f -a '(__tracemap)'
`},
	// PowerShell 5 and newer. Where it is told nothing, the shell completes files by
	// itself.
	{"powershell", `# PowerShell completion for tracemap
Register-ArgumentCompleter -Native -CommandName tracemap -ScriptBlock {
    param($word, $line, $cursor)
    $typed = @($line.CommandElements | Select-Object -Skip 1 | Where-Object { $_.Extent.EndOffset -lt $cursor } | ForEach-Object { $_.ToString() })
    & $line.CommandElements[0].ToString() __offer @typed "+$word" 2>$null | Where-Object { $_ -notlike ':*' } | ForEach-Object {
        $text, $means = $_ -split "` + "`t" + `", 2
        if (-not $means) { $means = $text }
        [System.Management.Automation.CompletionResult]::new($text, $text, 'ParameterValue', $means)
    }
}
`},
}

func shellNames() (names []string) {
	for _, s := range shells {
		names = append(names, s.name)
	}
	return names
}
